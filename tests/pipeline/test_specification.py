"""Pipeline files: those that come along load, and what is wrong in one is told at load."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.errors import CampaignError
from ridelab.pipeline import load, names
from ridelab.resources import data_dir

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize(
    ("name", "stages"),
    [
        ("fleet", ["read", "measure", "losses", "shifts", "verdicts", "report"]),
        ("claims", ["read", "measure", "losses", "verdicts", "report"]),
        ("usage", ["read", "measure", "losses", "shifts", "report"]),
    ],
)
def test_pipelines_that_come_along_load_by_name(name: str, stages: list[str]) -> None:
    """Each runs these stages in this order, and says in a sentence whom it is for."""
    pipeline = load(name)
    assert [step.name for step in pipeline.steps if step.name in stages] == stages
    assert pipeline.description


def test_every_pipeline_that_comes_along_is_known_by_name() -> None:
    """No file of pipelines/ is out of reach."""
    files = {file.name.removesuffix(".toml") for file in data_dir("pipelines").iterdir()}
    assert set(names()) == files == {"claims", "fleet", "usage"}


def test_pipeline_of_a_users_own_names_a_query_beside_it(tmp_path: Path) -> None:
    """The relation has the name of the file; settings are kept."""
    (tmp_path / "gear_use.sql").write_text("select 1 as gear", encoding="utf-8")
    file = tmp_path / "mine.toml"
    file.write_text('[[stages]]\nquery = "gear_use.sql"\neach_run = true', encoding="utf-8")
    pipeline = load(file)
    [step] = pipeline.steps
    assert pipeline.name == "mine"
    assert (step.name, step.query) == ("gear_use", "select 1 as gear")
    assert step.settings == {"each_run": True}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[[stages]]\nrun = "mesure"', r"stages#1\.run: no stage 'mesure'.*did you mean 'measure'"),
        ('[[stages]]\nquery = "shift"', r"stages#1\.query: .*did you mean 'shifts'"),
        ('[[stages]]\nquery = "none.sql"', r"no query 'none\.sql'"),
        ('[[stages]]\nquery = "rides.sql"', "would replace rides"),
        ('[[stages]]\nquery = "Odd-Name.sql"', "a-z, 0-9 and _"),
        ('[[stages]]\nrun = "read"\nquery = "shifts"', "both run and query"),
        ("[[stages]]\neach_run = true", "neither run nor query"),
        ('[[stages]]\nrun = "read"\neach_run = true', "not a setting of this stage"),
        ('[[stages]]\nrun = "read"\ncolumns.a = "b"', "columns: read is no query"),
        ('[[stages]]\nquery = "shifts"\ncolumns.a = "b"', "shifts is described by ridelab"),
        ('[[stages]]\nquery = "own.sql"\ncolumns = "b"', "columns: found 'b'"),
        ('[[stages]]\nquery = "own.sql"\ncolumns.a = 1', r"columns\.a: found 1"),
        ('[[stages]]\nquery = "own.sql"\ncolumns.a = "b [s"', "its unit in brackets"),
        ('[[stages]]\nquery = "own.sql"\ncolumns.a = " "', "its unit in brackets"),
        ('[[stages]]\nquery = "shifts"\neach_run = 1', "accepted: true or false"),
        (
            '[[stages]]\nquery = "shifts"\neach_run = true\nper_ride = true',
            r"stages#1: both each_run and per_ride",
        ),
        ('[[stages]]\nrun = "read"\nfast = true', "unknown key"),
        ('[[stages]]\nrun = "read"\n[stage]', "stage: unknown key.*did you mean 'stages'"),
        ("stages = []", "empty list"),
        ('description = "nothing else"', "stages: missing"),
        ("[[stages]", "is not TOML"),
    ],
)
def test_wrong_pipeline_file_is_told_at_load(tmp_path: Path, text: str, said: str) -> None:
    """File, key, what was found, what would be accepted."""
    for name in ("rides", "Odd-Name", "own"):
        (tmp_path / f"{name}.sql").write_text("select 1 as a", encoding="utf-8")
    file = tmp_path / "mine.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(CampaignError, match=said) as caught:
        load(file)
    assert str(caught.value).startswith(str(file))


@pytest.mark.parametrize(
    ("queries", "said"),
    [
        (
            {"one": "select * from two", "two": "select 1 as a"},
            r"stages#1\.query: one reads two, which stages#2 \(two\) .*: its place behind stages#2",
        ),
        (
            {"one": "from two", "two": "with a as (select 1) select * from a join one on true"},
            r"stages#1\.query: goes round: one reads two, and stages#2 \(two\) reads it in turn",
        ),
        (
            {"one": "from three", "two": "from one", "three": "select (select max(a) from two)"},
            r"goes round: one reads three, and stages#3 \(three\) reads it in turn",
        ),
        (
            {"one": "select 1 as a", "./one": ""},
            r"stages#2.*fills the relation one, as stages#1 \(",
        ),
        ({"one": "select * from one"}, "reads one, which it fills"),
        (
            {"one": "from verdicts", "run": "verdicts"},
            r"one reads verdicts, which stages#2 \(verdicts\) fills later",
        ),
        (
            {"one": "from samples", "run": "measure"},
            r"one reads engaged_samples, which stages#2 \(measure\) fills later",
        ),
    ],
)
def test_order_that_cannot_be_is_told_at_load_with_both_stages(
    tmp_path: Path, queries: dict[str, str], said: str
) -> None:
    """What a later stage fills, through views as well; queries that go round; one filled twice."""
    stages = []
    for name, text in queries.items():
        if name == "run":
            stages.append(f'[[stages]]\nrun = "{text}"\n')
            continue
        if text:
            (tmp_path / f"{name}.sql").write_text(text, encoding="utf-8")
        stages.append(f'[[stages]]\nquery = "{name}.sql"\n')
    file = tmp_path / "mine.toml"
    file.write_text("".join(stages), encoding="utf-8")
    with pytest.raises(CampaignError, match=said):
        load(file)


@pytest.mark.parametrize(
    "text",
    [
        "select count(*) as two from rides -- not the relation two",
        "with two as (select 1 as a) select * from two",
        "select 'two' as word, 1 as \"two\"",
        "no SQL at all, that is told by the run",
    ],
)
def test_word_that_is_no_relation_does_not_bind_the_order(tmp_path: Path, text: str) -> None:
    """A column, a part of the query itself, a text: the later stage of that name may stay."""
    (tmp_path / "one.sql").write_text(text, encoding="utf-8")
    (tmp_path / "two.sql").write_text("select 1 as a", encoding="utf-8")
    file = tmp_path / "mine.toml"
    file.write_text('[[stages]]\nquery = "one.sql"\n[[stages]]\nquery = "two.sql"', "utf-8")
    assert [step.name for step in load(file).steps] == ["one", "two"]


def test_unknown_pipeline_suggests_the_nearest() -> None:
    """And says that a path would do as well."""
    with pytest.raises(CampaignError, match=r"'fleat'.*did you mean 'fleet'.*or the path"):
        load("fleat")
