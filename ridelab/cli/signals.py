"""Ctrl-C and SIGTERM: an exception at once, one plain sentence, and the exit code that tells which.

Loads nothing but what an interpreter has loaded anyway, so that it holds from the first moment on.
"""

from __future__ import annotations

import os
import signal
import sys
from typing import TYPE_CHECKING

from ridelab.cli.exits import INTERRUPTED, TERMINATED
from ridelab.interruption import Interrupted, asked_by, interrupt

if TYPE_CHECKING:
    from types import FrameType

_ASKING: dict[int, int] = {signal.SIGINT: INTERRUPTED, signal.SIGTERM: TERMINATED}
_SAID = "ridelab: interrupted; what was stored stays stored"


def listen() -> None:
    """Turn the signals that ask for an end into ``Interrupted``, the second into the end itself.

    One that is ignored stays so: shells ignore Ctrl-C for what they run in the background.
    """
    for number in _ASKING:
        if signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, _asked)
    sys.unraisablehook = _unraisable


def stop_listening() -> None:
    """Ignore them: the command is done, and nothing is left but to leave."""
    for number in _ASKING:
        signal.signal(number, signal.SIG_IGN)


def told() -> int:
    """Say that the command was interrupted; return its exit code."""
    sys.stderr.write(f"{_SAID}\n")
    return _ASKING[asked_by() or signal.SIGINT]


def _asked(number: int, _frame: FrameType | None) -> None:
    if asked_by() is not None:
        os._exit(_ASKING[number])
    interrupt(number)


def _unraisable(what: sys.UnraisableHookArgs, /) -> None:
    """Say nothing of an interruption that came in a finalizer: it is noted, and will be heeded."""
    if not isinstance(what.exc_value, Interrupted):
        sys.__unraisablehook__(what)
