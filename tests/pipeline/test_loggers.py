"""CSV files in a campaign: read by its loggers, and again when a logger or rollout changes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.pipeline.conftest import QUICK
from tests.pipeline.test_reading import READ

if TYPE_CHECKING:
    from tests.pipeline.conftest import Bench

BENCH = """
[loggers.bench]
time = { column = "t", format = "seconds" }
starts_at = "day-%Y-%m-%d"
columns = { wheel_rpm = { column = "wheel" }, cadence = { column = "crank" } }
"""
DAY = "rides/otter/day-2031-05-09.csv"


def minutes(gears: tuple[float, ...] = (1.0, 1.3, 1.7)) -> bytes:
    """Six times half a minute in each gear, wheel over crank, with a cadence that wanders."""
    rows = (
        (second, gears[second // 30 % len(gears)] * cadence, cadence)
        for second in range(180 * len(gears))
        for cadence in (70 + second % 13,)
    )
    lines = (f"{second},{wheel:.3f},{cadence}" for second, wheel, cadence in rows)
    return "\n".join(["t,wheel,crank", *lines]).encode()


@pytest.fixture
def logged(bench: Bench) -> Bench:
    """The second vehicle has a log of a test bench beside its ride, and the campaign a logger."""
    bench.edit("rides/otter/*.fit", "rides/otter/*")
    file = bench.root / "campaign.toml"
    file.write_text(file.read_text(encoding="utf-8") + BENCH, encoding="utf-8")
    bench.put(DAY, minutes())
    return bench


def speed(bench: Bench) -> float:
    """First speed of the log."""
    found = bench.frame(
        "select speed_mps from samples join rides using (ride) where format = 'csv' order by t_s"
    )
    return float(found["speed_mps"][0])


def test_log_is_a_ride_of_the_vehicle(logged: Bench) -> None:
    """With the rollout of its tyre: 47-622, nominally pi * (622 + 2 * 47) mm."""
    assert logged.run(READ).read == 4
    [(path, form, source, day)] = logged.frame(
        "select path, format, speed_source, strftime(started_at, '%Y-%m-%d') "
        "from rides where format = 'csv'"
    ).rows()
    assert (path, form, source, day) == (DAY, "csv", "wheel sensor", "2031-05-09")
    assert speed(logged) == pytest.approx(70 / 60 * 2.2494, rel=1e-3)


def test_log_is_not_read_again_while_nothing_changes(logged: Bench, reads: list[str]) -> None:
    """Nor is anything else."""
    logged.run(READ)
    reads.clear()
    outcome = logged.run(READ)
    assert (outcome.read, outcome.unchanged, reads) == (0, 4, [])


def test_new_rollout_reads_turns_of_the_wheel_again(logged: Bench, reads: list[str]) -> None:
    """And only those: the rides of other formats stay; the vehicle is measured anew."""
    logged.run(QUICK)
    reads.clear()
    logged.edit('tyre = "47-622"', "rollout_m = 2.0")
    outcome = logged.run(QUICK)
    assert reads == ["day-2031-05-09.csv"]
    assert outcome.measured == ("otter",)
    assert speed(logged) == pytest.approx(70 / 60 * 2.0)


def test_changed_logger_reads_its_files_again_and_measures(logged: Bench, reads: list[str]) -> None:
    """Nothing else says that the vehicle's samples are others now."""
    logged.run(QUICK)
    reads.clear()
    logged.edit('wheel_rpm = { column = "wheel" }', 'speed = { column = "wheel", unit = "km/h" }')
    outcome = logged.run(QUICK)
    assert reads == ["day-2031-05-09.csv"]
    assert outcome.measured == ("otter",)
    assert speed(logged) == pytest.approx(70 / 3.6)


def test_log_that_no_logger_fits_is_read_once_one_does(logged: Bench, reads: list[str]) -> None:
    """Set aside with its reason until then, and not tried at every run."""
    logged.edit('column = "crank"', 'column = "pedals"')
    for _ in range(2):
        assert logged.run(READ).set_aside == 1
    assert reads.count("day-2031-05-09.csv") == 1
    [(path, message)] = [
        (path, message) for path, severity, message in logged.told("read") if severity == "error"
    ]
    assert path == DAY
    assert message == "no logger of the campaign fits its header: 'bench' also has 'pedals'"
    logged.edit('column = "pedals"', 'column = "crank"')
    assert logged.run(READ).exit_code == 0


def test_vehicle_that_names_a_logger_settles_which(logged: Bench) -> None:
    """Two that fit are an error that says so; naming one reads the file."""
    file = logged.root / "campaign.toml"
    file.write_text(file.read_text(encoding="utf-8") + BENCH.replace("bench", "twin"))
    assert logged.run(READ).set_aside == 1
    assert any("loggers 'bench' and 'twin' both fit" in told for _, _, told in logged.told("read"))
    logged.edit("[vehicles.otter]", '[vehicles.otter]\nlogger = "bench"')
    assert logged.run(READ).exit_code == 0


def test_gears_are_measured_from_a_log(logged: Bench) -> None:
    """Three ratios, of a bench that turns the wheel: found within a thousandth."""
    (logged.root / "rides/otter/c.fit").unlink()
    logged.run(QUICK)
    ratios = logged.frame("from measured_gears where vehicle = 'otter' order by gear")["ratio"]
    assert ratios.to_list() == pytest.approx([1.0, 1.3, 1.7], rel=1e-3)


def test_turns_of_a_wheel_that_is_not_driven_are_metres_of_that_wheel(logged: Bench) -> None:
    """70 turns a minute of a 32-622 wheel: by hand 70 / 60 × π × 0.686 m/s, whatever is driven."""
    wheels = 'other_tyres = ["32-622"]\nsensor_wheel = "32-622"\n'
    logged.edit("[vehicles.otter]\n", f"[vehicles.otter]\n{wheels}")
    logged.run(READ)
    assert speed(logged) == pytest.approx(70 / 60 * 3.14159265 * 0.686)


def test_named_field_of_power_reads_fit_files_again(logged: Bench, reads: list[str]) -> None:
    """Of that vehicle, and once; its log has no fields to look into."""
    logged.run(QUICK)
    reads.clear()
    logged.edit('kind = "trike"', 'kind = "trike"\nwheel_power_field = "hub"')
    logged.run(QUICK)
    logged.run(QUICK)
    assert reads == ["c.fit"]
    [told] = [message for path, _, message in logged.told("read") if path == "rides/otter/c.fit"]
    assert "'hub' for the power at the wheel" in told


@pytest.fixture
def inbox(logged: Bench) -> Bench:
    """The log lies in the inbox of the campaign, and no vehicle's globs name it."""
    text = '[campaign]\nname = "Invented spring rides"\n'
    logged.edit(text, f'{text}rides = ["inbox/*"]\n')
    logged.put("inbox/day-2031-05-09.csv", minutes())
    (logged.root / DAY).unlink()
    return logged


def mount(bench: Bench, vehicle: str) -> None:
    """State that a vehicle was ridden on the day of the log."""
    file = bench.root / "campaign.toml"
    row = f'\n[[mounted]]\nvehicle = "{vehicle}"\nfrom = 2031-05-09\nuntil = 2031-05-09\n'
    file.write_text(file.read_text(encoding="utf-8") + row, encoding="utf-8")


def test_turns_in_the_inbox_are_metres_of_the_vehicle_of_that_day(
    inbox: Bench, reads: list[str]
) -> None:
    """Read once to learn the day, once as the vehicle's; then no more, until its wheel changes."""
    mount(inbox, "otter")
    assert inbox.run(READ).read == 4
    assert speed(inbox) == pytest.approx(70 / 60 * 3.14159265 * 0.716)
    assert reads.count("day-2031-05-09.csv") == 2
    reads.clear()
    inbox.run(READ)
    assert reads == []
    inbox.edit('tyre = "47-622"', "rollout_m = 2.0")
    inbox.run(READ)
    assert speed(inbox) == pytest.approx(70 / 60 * 2.0)
    assert set(reads) == {"day-2031-05-09.csv"}


def test_turns_of_nobodys_wheel_are_set_aside_until_a_row_says_whose(
    inbox: Bench, reads: list[str]
) -> None:
    """With the reason and what to do; looked at once, and again when the rows of dates change."""
    assert inbox.run(READ).set_aside == 1
    [told] = [message for path, _, message in inbox.told("read") if path.startswith("inbox")]
    assert "its speed is told in turns of a wheel, and nothing tells of which vehicle" in told
    assert "no row of [[mounted]] covers 2031-05-09 00:00 UTC; accepted: a row of" in told
    reads.clear()
    inbox.run(READ)
    assert reads == []
    mount(inbox, "heron")
    again = inbox.run(READ)
    assert (again.read, again.set_aside) == (1, 0)
    assert speed(inbox) == pytest.approx(70 / 60 * 2.1)


def test_log_that_changes_hands_has_the_other_wheel_in_the_same_run(inbox: Bench) -> None:
    """Then nobody's: what was read stays stored, and is measured for none."""
    mount(inbox, "otter")
    inbox.run(QUICK)
    inbox.edit('vehicle = "otter"', 'vehicle = "heron"')
    inbox.run(QUICK)
    assert speed(inbox) == pytest.approx(70 / 60 * 2.1)
    inbox.edit("from = 2031-05-09", "from = 2031-05-08")
    inbox.edit("until = 2031-05-09", "until = 2031-05-08")
    assert inbox.run(QUICK).set_aside == 1
    [vehicle] = inbox.frame("select vehicle from recorded_rides where format = 'csv'")["vehicle"]
    assert vehicle is None
    assert any("by other settings, stays stored" in told for _, _, told in inbox.told("files"))


def test_speed_in_the_inbox_needs_no_wheel(inbox: Bench) -> None:
    """A log with a speed of its own is a ride, of nobody until a row says of whom."""
    inbox.edit('wheel_rpm = { column = "wheel" }', 'speed = { column = "wheel", unit = "km/h" }')
    found = inbox.run(READ)
    assert (found.read, found.set_aside) == (4, 0)
    assert inbox.frame("unassigned_rides")["path"].to_list() == ["inbox/day-2031-05-09.csv"]


def test_vehicle_of_the_day_without_a_wheel_is_told_so(inbox: Bench) -> None:
    """As where its own globs name the file."""
    inbox.edit('tyre = "47-622"\n', "")
    mount(inbox, "otter")
    assert inbox.run(READ).set_aside == 1
    [told] = [message for path, _, message in inbox.told("read") if path.startswith("inbox")]
    assert "the vehicle has no rollout; accepted: rollout_m or tyre of the vehicle" in told


def test_field_of_power_is_taken_from_files_of_the_inbox(bench: Bench, reads: list[str]) -> None:
    """Of the vehicle whose day it is, in the run in which that becomes known; of others not."""
    text = '[campaign]\nname = "Invented spring rides"\n'
    bench.edit(text, f'{text}rides = ["inbox/*.fit"]\n')
    bench.edit('kind = "trike"', 'kind = "trike"\nwheel_power_field = "hub"')
    (bench.root / "inbox").mkdir()
    (bench.root / "rides/otter/c.fit").rename(bench.root / "inbox/c.fit")
    bench.run(READ)
    row = '\n[[mounted]]\nvehicle = "otter"\nfrom = 2031-05-06\nuntil = 2031-05-06\n'
    file = bench.root / "campaign.toml"
    file.write_text(file.read_text(encoding="utf-8") + row, encoding="utf-8")
    assert not any("'hub'" in told for _, _, told in bench.told("read"))
    reads.clear()
    bench.run(READ)
    assert set(reads) == {"c.fit"}
    assert any("'hub' for the power at the wheel" in told for _, _, told in bench.told("read"))
    reads.clear()
    bench.run(READ)
    assert reads == []
