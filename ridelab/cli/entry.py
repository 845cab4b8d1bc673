"""The way in and out: one place where every error becomes one plain line and an exit code."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

import typer

from ridelab.cli import events, signals
from ridelab.cli.app import app
from ridelab.cli.exits import FAILED, INTERRUPTED, USAGE
from ridelab.cli.session import Session
from ridelab.cli.text import printable
from ridelab.errors import RidelabError
from ridelab.interruption import asked_by

if TYPE_CHECKING:
    from collections.abc import Sequence


def run(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code; no exception but SystemExit leaves here."""
    session = Session()
    events.want(wanted=False)
    try:
        code = app(args=list(arguments), prog_name="ridelab", standalone_mode=False, obj=session)
        sys.stdout.flush()
    except SystemExit:
        raise
    except BaseException as error:  # noqa: BLE001 - compiled libraries panic with no Exception
        code = INTERRUPTED if _is_interruption(error) else _explain(error, session)
    if code == INTERRUPTED or asked_by() is not None:
        return _interrupted()
    return code if isinstance(code, int) else 0


def _is_interruption(error: BaseException) -> bool:
    """Whatever error comes of an interruption in the end, that is what happened."""
    return asked_by() is not None or isinstance(error, KeyboardInterrupt)


def _interrupted() -> int:
    try:
        sys.stdout.flush()
    except OSError:
        _silence_stdout()
    return signals.told()


def _explain(error: BaseException, session: Session) -> int:
    """Say what went wrong in one line and return the exit code that goes with it."""
    if isinstance(error, BrokenPipeError):
        _silence_stdout()
        return FAILED
    if session.debug:
        import traceback

        traceback.print_exception(error)
    if isinstance(error, typer.TyperException):
        return _usage(error)
    if isinstance(error, RidelabError):
        _say(str(error))
        return error.exit_code
    if isinstance(error, OSError):
        place = f"{error.filename}: " if error.filename else ""
        _say(f"{place}{error.strerror or error}")
        return FAILED
    hint = "" if session.debug else "; `ridelab --debug …` shows the traceback"
    _say(f"internal error, please report it: {type(error).__name__}: {error}{hint}")
    return FAILED


def _usage(error: typer.TyperException) -> int:
    """A wrong command line: what is wrong, and where the right one is explained."""
    context = getattr(error, "ctx", None)
    if type(error).__name__ == "NoArgsIsHelpError":
        typer.echo(error.format_message(), err=True)
        return USAGE
    message = error.format_message().rstrip(".")
    command = context.command_path if context else "ridelab"
    _say(f"{message}; `{command} --help` lists what there is")
    return USAGE


def _say(message: str) -> None:
    if events.wanted():
        events.write("error", {"text": message})
    else:
        typer.echo(f"ridelab: {printable(message)}", err=True)


def _silence_stdout() -> None:
    """Let the interpreter flush at its end without meeting the closed pipe again."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
