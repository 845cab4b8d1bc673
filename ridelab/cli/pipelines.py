"""``ridelab pipeline``: the pipelines that come along, to be read, copied and changed."""

from __future__ import annotations

from ridelab.cli.output import print_objects, print_table, say, say_prose
from ridelab.cli.text import Column
from ridelab.errors import UsageError, nearest


def print_pipelines(*, as_json: bool = False) -> None:
    """Print which there are, what each is for, and how one gets at them."""
    from ridelab.pipeline import load, names

    found = [load(name) for name in names()]
    if as_json:
        print_objects(
            {
                "pipeline": one.name,
                "description": one.description,
                "stages": [step.name for step in one.steps],
            }
            for one in found
        )
        return
    print_table(
        [
            Column("pipeline", [one.name for one in found]),
            Column("stages", [str(len(one.steps)) for one in found], right=True),
            Column("what for", [one.description for one in found], wraps=True),
        ]
    )
    say()
    say_prose(
        "`ridelab pipeline fleet > mine.toml` copies one; `ridelab run mine.toml` runs the copy."
    )


def print_pipeline(name: str, *, as_json: bool = False) -> None:
    """Print a pipeline as its file says it, comments too; ``as_json``: its stages in order.

    Raises:
        UsageError: none of that name comes along.
    """
    from ridelab.pipeline import load, names, source

    if name not in names():
        raise UsageError(f"no pipeline {name!r}; {nearest(name, names())}")
    if as_json:
        print_objects(
            {
                "stage": step.name,
                "does": "run" if step.query is None else "query",
                "source": step.source or None,
                "settings": step.settings,
            }
            for step in load(name).steps
        )
        return
    say(source(name).rstrip("\n"))
