"""``demo``, ``run``, ``show`` and ``query``: the whole way, from files to answers."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from ridelab.store import Store

if TYPE_CHECKING:
    from tests.cli.conftest import Done, Ridelab

PROGRESS = r"[\w' ]+: \d+( of \d+)?"
HOLD = """
import sys, time
from pathlib import Path
from ridelab.store import Store
with Store.open(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Done]:
    """The demo as it was written and run once, and what it printed."""
    from tests.cli.conftest import Done

    top = tmp_path_factory.mktemp("demo")
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "ridelab", "demo", "fleet"],
        cwd=top,
        capture_output=True,
        text=True,
        check=False,
        env={"COLUMNS": "80", "PYTHONIOENCODING": "utf-8"} | {"PYTHONPATH": ":".join(sys.path)},
    )
    return top / "fleet", Done(done.returncode, done.stdout, done.stderr)


@pytest.fixture
def fleet(demo: tuple[Path, Done]) -> str:
    """The campaign file of the demo."""
    return str(demo[0] / "campaign.toml")


@pytest.fixture
def rides(demo: tuple[Path, Done], tmp_path: Path) -> Path:
    """A folder with one good ride and one file of each kind that is not."""
    folder = tmp_path / "rides"
    folder.mkdir()
    ride = (demo[0] / "rides" / "plover" / "bank-road.fit").read_bytes()
    (folder / "good.fit").write_bytes(ride)
    other = (demo[0] / "rides" / "plover" / "sluice-hill.fit").read_bytes()
    (folder / "truncated.fit").write_bytes(other[: len(other) // 2])
    (folder / "empty.fit").write_bytes(b"")
    (folder / "text.fit").write_text("no ride at all, but long enough to be one", encoding="utf-8")
    return folder


def rows(done: Done) -> list[dict[str, Any]]:
    """The rows of a JSON answer."""
    assert (done.code, done.err) == (0, "")
    found = json.loads(done.out)
    assert isinstance(found, list)
    return found


def told(done: Done) -> list[str]:
    """The lines on stderr but those of progress, which come where a run takes long."""
    return [line for line in done.err.splitlines() if not re.fullmatch(PROGRESS, line)]


def test_demo_answers_on_stdout(demo: tuple[Path, Done]) -> None:
    """What needs hands, all vehicles, claims, the report; that it is invented; exit 0."""
    folder, done = demo
    assert done.code == 0
    assert "are invented" in done.out.splitlines()[1]
    assert "needs hands:" in done.out
    assert "- redshank: gear 14 is 2.9 % below its published ratio" in done.out
    assert re.search(r"^plover +2 +25\.8 +2026-04-12 +9/9 +540 ", done.out, re.MULTILINE)
    assert "\n  ridelab show problems -c fleet/campaign.toml\n" in done.out
    assert "Of 10 claims 2 fail, 2 are undecided, 5 hold, 1 is untestable" in done.out.splitlines()
    assert "report: fleet/report/index.html" in done.out.splitlines()
    assert done.out.splitlines()[-1] == "  ridelab run usage -c fleet/campaign.toml"
    assert (folder / "report" / "index.html").exists()
    assert max(map(len, done.out.splitlines())) <= 80
    assert "\x1b" not in done.out


def test_demo_tells_on_stderr_what_was_set_aside(demo: tuple[Path, Done]) -> None:
    """One line a file, with its reason; no bar, no traceback, but progress where it takes long."""
    assert told(demo[1]) == [
        "set aside: rides/dunlin/unit-settings.fit: a settings file, not an activity"
    ]


def test_demo_never_overwrites_what_is_no_demo(ridelab: Ridelab, tmp_path: Path) -> None:
    """A folder with something else in it stays as it is."""
    (tmp_path / "demo").mkdir()
    (tmp_path / "demo" / "letter.txt").write_text("mine", encoding="utf-8")
    done = ridelab("demo")
    assert (done.code, done.out) == (2, "")
    assert [path.name for path in (tmp_path / "demo").iterdir()] == ["letter.txt"]


def test_second_run_reads_nothing(
    ridelab: Ridelab, demo: tuple[Path, Done], tmp_path: Path
) -> None:
    """All files are known; what was set aside still counts."""
    copy = shutil.copytree(demo[0], tmp_path / "copy")
    done = ridelab("run", "fleet", "-c", str(copy / "campaign.toml"))
    assert done.code == 3
    assert "files: 15 unchanged, 1 set aside" in done.out


def test_usage_does_not_answer_with_old_verdicts(
    ridelab: Ridelab, demo: tuple[Path, Done], tmp_path: Path
) -> None:
    """A store that ``fleet`` filled keeps its verdicts; ``usage`` did not judge anything.

    It answers how gears are used, and what the drivetrains that a vehicle names would change.
    """
    copy = shutil.copytree(demo[0], tmp_path / "copy")
    done = ridelab("run", "usage", "-c", str(copy / "campaign.toml"))
    assert "plover (trike, nine)\n51 % of 55 min with drive in gears 5 and 9" in done.out
    assert "nine, shifted by this rider's habits: " in done.out
    assert "holds" not in done.out


def test_claims_answers_with_verdicts(
    ridelab: Ridelab, demo: tuple[Path, Done], tmp_path: Path
) -> None:
    """Verdicts first, one row a claim and vehicle, then what to ride next."""
    copy = shutil.copytree(demo[0], tmp_path / "copy")
    done = ridelab("run", "claims", "-c", str(copy / "campaign.toml"))
    for verdict in ("holds", "fails", "undecided"):
        assert f"\n{verdict} " in done.out
    assert "needs hands" not in done.out


def test_one_vehicle_shows_its_ladder(ridelab: Ridelab, demo: tuple[Path, Done]) -> None:
    """Where few vehicles were measured, their ladders follow what was asked."""
    rides = str(demo[0] / "rides" / "plover" / "*.fit")
    done = ridelab("run", "usage", "--rides", rides, "--tyre", "50-406")
    assert "with drive in gears" in done.out
    assert "9 gears were ridden" in done.out


def test_dry_run_writes_nothing(ridelab: Ridelab, tmp_path: Path, rides: Path) -> None:
    """The plan names the stages and the files that are new."""
    done = ridelab("run", "usage", "--rides", "rides/*.fit", "--dry-run")
    assert (done.code, done.err) == (0, "")
    assert "rides/good.fit" in done.out
    assert "4 to do" in done.out
    assert sorted(path.name for path in tmp_path.iterdir()) == [rides.name]


def test_rider_without_campaign(ridelab: Ridelab, tmp_path: Path, rides: Path) -> None:
    """Bad files are set aside, each with its reason and a row in ``problems``; the ride is read."""
    done = ridelab("run", "usage", "--rides", "rides/*.fit", "--tyre", "50-406")
    assert done.code == 3
    assert "Traceback" not in done.err
    assert [line.split(": ")[1] for line in told(done)] == ["rides/empty.fit", "rides/text.fit"]
    assert "2 read, 2 set aside" in done.out
    assert done.out.splitlines()[-1] == "report: my-rides-report/index.html"
    assert "\n  ridelab show problems --store my-rides.duckdb\n" in done.out
    with Store.open(tmp_path / "my-rides.duckdb", read_only=True) as store:
        problems = store.frame("problems")
        assert {"rides/empty.fit", "rides/text.fit", "rides/truncated.fit"} <= set(problems["path"])
        assert len(store.frame("rides")) == 2
        assert len(store.frame("measured_gears")) >= 5
    assert rides.exists()


@pytest.mark.usefixtures("rides")
def test_shell_may_expand_the_rides(ridelab: Ridelab) -> None:
    """Without quotes the shell hands over many files instead of one glob."""
    done = ridelab("run", "usage", "--rides", "rides/good.fit", "rides/truncated.fit")
    assert done.code == 0
    assert "2 read" in done.out


@pytest.mark.usefixtures("rides")
def test_rider_without_campaign_can_look_at_the_store(ridelab: Ridelab) -> None:
    """``show`` and ``query`` find the store here, or where it is said to be."""
    ridelab("run", "usage", "--rides", "rides/good.fit", "--store", "other.duckdb")
    elsewhere = ridelab("show", "rides", "--store", "other.duckdb", "--json")
    Path("other.duckdb").rename("my-rides.duckdb")
    here = ridelab("query", "select * from rides", "--json")
    assert [row["path"] for row in rows(here)] == ["rides/good.fit"]
    assert rows(elsewhere) == rows(here)


def test_rider_leaves_the_campaign_here_alone(
    ridelab: Ridelab, demo: tuple[Path, Done], tmp_path: Path
) -> None:
    """In the folder of a campaign its store and report stay as they are, byte for byte."""
    for name in ("campaign.toml", "ridelab.duckdb", "rides"):
        (tmp_path / name).symlink_to(demo[0] / name)
    before = (demo[0] / "ridelab.duckdb").read_bytes()
    done = ridelab("run", "usage", "--rides", "rides/plover/bank-road.fit")
    assert done.code == 0
    assert (demo[0] / "ridelab.duckdb").read_bytes() == before
    assert not (tmp_path / "report").exists()
    assert {"my-rides.duckdb", "my-rides-report"} <= {path.name for path in tmp_path.iterdir()}


@pytest.mark.parametrize("out", ["letter.txt", "letter.txt/report"])
@pytest.mark.usefixtures("rides")
def test_report_where_no_folder_can_be_is_refused_first(
    ridelab: Ridelab, tmp_path: Path, out: str
) -> None:
    """Before a ride is read: there is no store yet."""
    (tmp_path / "letter.txt").write_text("mine", encoding="utf-8")
    done = ridelab("run", "usage", "--rides", "rides/good.fit", "--out", out)
    assert (done.code, done.out) == (2, "")
    assert f"report in {out}: letter.txt is a file; accepted: a folder" in done.err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["letter.txt", "rides"]


def test_run_over_no_file_at_all_is_refused(ridelab: Ridelab, tmp_path: Path) -> None:
    """Exit 2, before there is a store; which glob matches nothing, and that nothing is to do."""
    done = ridelab("run", "usage", "--rides", "nowhere/*.fit")
    assert (done.code, done.out) == (2, "")
    warning, refusal = done.err.splitlines()
    assert warning.startswith("warning: nowhere/*.fit: vehicle 'my cycle': no file matches")
    assert refusal.startswith("ridelab: --rides: no ride file for any vehicle: nothing to do")
    assert list(tmp_path.iterdir()) == []
    assert ridelab("run", "usage", "--rides", "nowhere/*.fit", "--dry-run").code == 2


def test_run_over_no_vehicle_is_refused(ridelab: Ridelab, tmp_path: Path) -> None:
    """``check`` takes an empty campaign with a warning, ``run`` does not."""
    (tmp_path / "campaign.toml").write_text("", encoding="utf-8")
    done = ridelab("run", "fleet")
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("ridelab: campaign.toml: vehicles: no vehicle; accepted: ")
    checked = ridelab("check")
    assert checked.code == 0
    assert checked.err.startswith("warning: campaign.toml: no vehicle")


def test_vehicle_without_a_file_is_told_and_ends_with_3(
    ridelab: Ridelab, rides: Path, tmp_path: Path
) -> None:
    """The other is measured all the same."""
    (tmp_path / "campaign.toml").write_text(
        f"""
[vehicles.heron]
kind = "trike"
rides = ["{rides.name}/good.fit"]
[vehicles.egret]
kind = "trike"
rides = ["egret/*.fit"]
""",
        encoding="utf-8",
    )
    done = ridelab("run", "usage")
    assert done.code == 3
    assert "1 read" in done.out
    assert done.err.startswith("warning: egret/*.fit: vehicle 'egret': no file matches this glob")


def test_unknown_pipeline(ridelab: Ridelab, fleet: str) -> None:
    """The known ones are listed."""
    done = ridelab("run", "flet", "-c", fleet)
    assert (done.code, done.out) == (2, "")
    assert "did you mean 'fleet'?" in done.err


def test_held_store_is_exit_code_4(ridelab: Ridelab, rides: Path, tmp_path: Path) -> None:
    """Says which process holds it."""
    path = tmp_path / "held.duckdb"
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(path)], stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout
        assert holder.stdout.readline() == "held\n"
        done = ridelab("run", "usage", "--rides", f"{rides.name}/*.fit", "--store", str(path))
        holder.kill()
    assert (done.code, done.out) == (4, "")
    assert str(holder.pid) in done.err


def test_show_during_a_run_tells_what_is_stored_so_far(ridelab: Ridelab, tmp_path: Path) -> None:
    """At once, exit 0; who is writing stands beside."""
    path = tmp_path / "held.duckdb"
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(path)], stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout
        assert holder.stdout.readline() == "held\n"
        done = ridelab("show", "rides", "--store", str(path), "--json")
        exported = ridelab("export", "out", "--part", "claims", "--store", str(path))
        holder.kill()
    assert (done.code, json.loads(done.out)) == (0, [])
    assert exported.code == 0
    said = f"process {holder.pid} is writing it; this is what is stored so far"
    assert said in done.err
    assert said in exported.err


def test_show_before_any_run(ridelab: Ridelab) -> None:
    """There is no store yet, and what makes one."""
    ridelab("new", ".")
    done = ridelab("show", "measured_gears")
    assert (done.code, done.out) == (1, "")
    assert "ridelab run" in done.err


def test_show_as_json_is_si(ridelab: Ridelab, fleet: str) -> None:
    """All rows, one object each; the table for people has km/h instead."""
    found = rows(ridelab("show", "shifts", "-c", fleet, "--json"))
    assert len(found) > 100
    assert set(found[0]) >= {"ride", "t_s", "from_gear", "to_gear", "speed_mps", "while_decoupled"}
    assert 0 < max(row["speed_mps"] for row in found) < 25
    shown = ridelab("show", "shifts", "-c", fleet, "--limit", "3")
    assert "km/h" in shown.out
    assert shown.err == f"3 of {len(found)} rows; --limit 0 prints them all\n"


def test_show_as_csv(ridelab: Ridelab, fleet: str) -> None:
    """A header and every row."""
    done = ridelab("show", "published_gears", "-c", fleet, "--csv")
    found = list(csv.DictReader(io.StringIO(done.out)))
    assert found[0]["drivetrain"] == "nine"
    assert float(found[0]["ratio"]) == pytest.approx(0.55 * 32 / 24)


@pytest.mark.parametrize(
    "relation",
    [
        "vehicles",
        "rides",
        "samples",
        "shifts",
        "published_gears",
        "measured_gears",
        "measured_range",
        "measured_steps",
        "suggested_teeth",
        "claims",
        "verdicts",
        "test_ride_plan",
        "problems",
    ],
)
def test_every_relation_fits_80_columns(ridelab: Ridelab, fleet: str, relation: str) -> None:
    """The relations that people may rely on, as tables."""
    done = ridelab("show", relation, "-c", fleet, "--limit", "20")
    assert done.code == 0
    assert max(map(len, done.out.splitlines())) <= 80


def test_unknown_relation_is_exit_code_2(ridelab: Ridelab, fleet: str) -> None:
    """The nearest name is suggested."""
    done = ridelab("show", "measured_gear", "-c", fleet)
    assert (done.code, done.out) == (2, "")
    assert "did you mean 'measured_gears'?" in done.err


def test_query_answers_in_any_form(ridelab: Ridelab, fleet: str) -> None:
    """Sums of whole numbers stay whole; what JSON has no word for becomes text."""
    sql = (
        "select sum(n) as total, [1, 2] as pair, 'ab'::blob as raw, 1.5 as half from range(4) t(n)"
    )
    expected = {"total": 6, "pair": [1, 2], "raw": "6162", "half": 1.5}
    assert rows(ridelab("query", sql, "-c", fleet, "--json")) == [expected]
    assert ridelab("query", sql, "-c", fleet, "--csv").out == (
        'total,pair,raw,half\n6,"[1, 2]",6162,1.5\n'
    )
    assert "total" in ridelab("query", sql, "-c", fleet).out


def test_query_without_rows(ridelab: Ridelab, fleet: str) -> None:
    """Nothing found is an answer, in each form."""
    sql = "select gear from measured_gears where gear > 99"
    assert rows(ridelab("query", sql, "-c", fleet, "--json")) == []
    assert ridelab("query", sql, "-c", fleet, "--csv").out == "gear\n"
    assert ridelab("query", sql, "-c", fleet).out == "gear\n----\n"


@pytest.mark.parametrize(
    "sql",
    ["selec 1", "delete from rides", "copy rides to 'x.csv'", "select * from '/etc/passwd'"],
)
def test_query_can_only_read_the_store(ridelab: Ridelab, fleet: str, sql: str) -> None:
    """One line, exit 2; nothing is written."""
    done = ridelab("query", sql, "-c", fleet)
    assert (done.code, done.out) == (2, "")
    assert done.err.count("\n") == 1
    assert not Path("x.csv").exists()


def test_interrupted_run_ends_with_130(tmp_path: Path, demo: tuple[Path, Done]) -> None:
    """Ctrl-C while rides are read: one line, no traceback, and the next run goes on."""
    import signal

    copy = shutil.copytree(demo[0], tmp_path / "copy")
    (copy / "ridelab.duckdb").unlink()
    command = [sys.executable, "-m", "ridelab", "run", "fleet", "-c", str(copy / "campaign.toml")]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as process:
        while not (copy / "ridelab.duckdb").exists():
            time.sleep(0.01)
        process.send_signal(signal.SIGINT)
        assert process.stderr
        said = process.stderr.read()
    assert process.returncode == 130
    assert said == "ridelab: interrupted; what was stored stays stored\n"
    again = subprocess.run(command, capture_output=True, text=True, check=False)
    assert again.returncode == 3
