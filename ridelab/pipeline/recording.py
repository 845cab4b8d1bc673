"""What a run does and takes, for the relations ``runs`` and ``run_stages`` and for the log."""

from __future__ import annotations

import signal
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import ridelab
from ridelab.errors import RidelabError, StoreError
from ridelab.interruption import asked_by

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from ridelab.pipeline.context import Context, Outcome

#: Exit code of what failed, and of what a signal ended, less its number.
_FAILED, _BY_SIGNAL = 1, 128


@contextmanager
def recorded(
    context: Context, pipeline: str, workers: int, now: Callable[[], float]
) -> Iterator[None]:
    """Remember a run from its first to its last moment, however it ends."""
    began, store = now(), context.store
    run = store.begin_run(datetime.now(UTC), pipeline, workers)
    facts = {"version": ridelab.__version__, "pipeline": pipeline, "workers": workers}
    context.log("run begun", {"run": run, **facts})
    try:
        yield
    except BaseException as error:
        code = _code(error)
        context.log("run ended", {"run": run, "exit_code": code, "seconds": now() - began})
        with suppress(StoreError):  # the store may be what is wrong
            ended = {"exit_code": code, "seconds": now() - began}
            store.end_run(run, ended, context.outcome.seconds)
        raise
    context.outcome = context.outcome.taking(now() - began)
    counted = _counted(context.outcome)
    store.end_run(run, counted, context.outcome.seconds)
    context.log("run ended", {"run": run, **counted})


def _code(error: BaseException) -> int:
    if isinstance(error, RidelabError):
        return error.exit_code
    if isinstance(error, KeyboardInterrupt):
        return _BY_SIGNAL + (asked_by() or signal.SIGINT)
    return _FAILED


def _counted(outcome: Outcome) -> dict[str, int | float]:
    return {
        "read": outcome.read,
        "unchanged": outcome.unchanged,
        "duplicates": outcome.duplicates,
        "set_aside": outcome.set_aside,
        "measured": len(outcome.measured),
        "kept": len(outcome.kept),
        "failed": len(outcome.failed),
        "exit_code": outcome.exit_code,
        "seconds": outcome.took_s,
    }
