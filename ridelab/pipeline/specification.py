"""Pipeline files -> checked steps. A pipeline is data: stages, their order, their settings."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from importlib.resources import as_file
from pathlib import Path
from typing import TYPE_CHECKING

from ridelab.campaign.table import Table, read_toml, shown
from ridelab.errors import CampaignError, nearest
from ridelab.pipeline.ordering import check_order
from ridelab.pipeline.querying import BROUGHT, QUERY_SETTINGS
from ridelab.pipeline.stages import STAGES
from ridelab.resources import data_dir
from ridelab.store import own_relations

if TYPE_CHECKING:
    from collections.abc import Mapping

_ACCEPTED = 'tables [[stages]], each with run = "…" or query = "…"'
#: Keys of a stage that are no settings of what it runs.
_NO_SETTINGS = frozenset({"run", "query", "columns"})
_RELATION = re.compile(r"[a-z][a-z0-9_]{0,62}", re.ASCII)
_DESCRIBED = re.compile(r"[^\[\]]+( \[[^\[\]]+\])?")


@dataclass(frozen=True)
class Step:
    """One stage of a pipeline.

    ``name`` is that of a stage of the package, or, where ``query`` holds SQL, of the relation that
    its result replaces; ``source`` is the file the query stands in. ``columns`` says what columns
    of a user's own query mean, "meaning [unit]"; None where ridelab brings the query.
    """

    name: str
    query: str | None = None
    source: str = ""
    settings: Mapping[str, object] = field(default_factory=dict)
    columns: Mapping[str, str] | None = None


@dataclass(frozen=True)
class Pipeline:
    """Stages in order."""

    name: str
    description: str
    steps: tuple[Step, ...]


def names() -> tuple[str, ...]:
    """Return the names of the pipelines that ridelab brings."""
    return _stems("pipelines", ".toml")


def source(name: str) -> str:
    """Return the file of a pipeline that ridelab brings, as text."""
    return data_dir("pipelines").joinpath(f"{name}.toml").read_text("utf-8")


def load(name_or_path: str | Path) -> Pipeline:
    """Read a pipeline that ridelab brings by its name, or any other by its path.

    Raises:
        CampaignError: no such pipeline, or anything in it that cannot be.
    """
    text = str(name_or_path)
    if text in names():
        with as_file(data_dir("pipelines").joinpath(f"{text}.toml")) as file:
            return _read(text, file)
    file = Path(name_or_path)
    if not file.exists():
        accepted = f"{nearest(text, names())}, or the path of a pipeline file"
        raise CampaignError(f"pipeline {text!r}", "", "no such pipeline", accepted)
    return _read(file.stem, file)


def _read(name: str, file: Path) -> Pipeline:
    top = Table(file, "", read_toml(file), ("description", "stages"))
    settings = QUERY_SETTINGS.union(*(stage.settings for stage in STAGES.values()))
    stages = top.tables("stages", {*_NO_SETTINGS, *settings}, _ACCEPTED)
    steps = tuple(_step(stage) for stage in stages)
    check_order(list(zip(stages, steps, strict=True)))
    return Pipeline(name, top.text("description", ""), steps)


def _step(stage: Table) -> Step:
    if ("run" in stage) == ("query" in stage):
        both = "both run and query" if "run" in stage else "neither run nor query"
        stage.fail("", both, 'run = "…" or query = "…"')
    if "query" in stage:
        return _query(stage)
    name = stage.text("run")
    if "columns" in stage:
        stage.fail("columns", f"{name} is no query", "columns of a query of your own")
    if name not in STAGES:
        stage.fail("run", f"no stage {name!r}", nearest(name, STAGES))
    return Step(name, settings=_settings(stage, STAGES[name].settings))


def _query(stage: Table) -> Step:
    """Find a query of sql/analysis by its name, or a file by its path from the pipeline file."""
    name = stage.text("query")
    settings = _settings(stage, QUERY_SETTINGS)
    if settings.get("each_run") and settings.get("per_ride"):
        stage.fail("", "both each_run and per_ride", "one of them, or neither")
    if name in (known := _stems("sql/analysis", ".sql")):
        if "columns" in stage:
            accepted = "columns of a query of your own"
            stage.fail("columns", f"{name} is described by ridelab", accepted)
        source = data_dir("sql").joinpath("analysis", f"{name}.sql")
        return Step(name, source.read_text("utf-8"), f"{BROUGHT}{name}.sql", settings)
    file = stage.file.parent / name
    if not name.endswith(".sql") or not file.is_file():
        accepted = f"{nearest(name, known)}, or the path of a .sql file from this file"
        stage.fail("query", f"no query {name!r}", accepted)
    relation = file.stem
    if not _RELATION.fullmatch(relation):
        stage.fail(
            "query", f"file name {shown(relation)}", "a-z, 0-9 and _, as it names a relation"
        )
    if relation in own_relations() - set(known):
        stage.fail("query", f"would replace {relation}, which every run needs", "another file name")
    try:
        sql = file.read_text("utf-8")
        return Step(relation, sql, str(file), settings, _columns(stage))
    except (OSError, UnicodeDecodeError) as error:
        raise CampaignError(file, "", f"cannot be read: {error}", "SQL, as UTF-8 text") from error


def _columns(stage: Table) -> dict[str, str]:
    """Return what is said of columns; that there are such columns is seen once it is filled."""
    told = stage.table("columns", None)
    accepted = 'what it means, and its unit in brackets: "time on steep roads [s]"'
    texts = {name: told.text(name, accepted=accepted).strip() for name in told.raw}
    for name, text in texts.items():
        if not _DESCRIBED.fullmatch(text):
            told.fail(name, f"found {shown(told.raw[name])}", accepted)
    return texts


def _settings(stage: Table, known: frozenset[str]) -> dict[str, object]:
    """Return the settings of a stage, all of them true or false so far."""
    given = {key: value for key, value in stage.raw.items() if key not in _NO_SETTINGS}
    for key, value in given.items():
        if key not in known:
            stage.fail(key, "not a setting of this stage", nearest(key, known))
        if not isinstance(value, bool):
            stage.fail(key, f"found {shown(value)}", "true or false")
    return given


def _stems(folder: str, ending: str) -> tuple[str, ...]:
    top, *below = folder.split("/")
    files = (file.name for file in data_dir(top).joinpath(*below).iterdir())
    return tuple(sorted(name.removesuffix(ending) for name in files if name.endswith(ending)))
