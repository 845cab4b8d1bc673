"""That somebody asked this process to end: noted once, heeded before anything is stored or written.

An exception alone does not do. Compiled libraries turn one that passes through them into errors of
their own, a finalizer or a bare ``except`` in some library drops it, and what a run then made of
that would be kept as if it were true. So nothing is committed any more once an end was asked for.
"""

from __future__ import annotations

from typing import NoReturn

_signal: int | None = None


class Interrupted(KeyboardInterrupt):
    """A signal asked to end.

    A class of its own, as an interpreter in which a plain ``KeyboardInterrupt`` left some text that
    is executed, such as that of a dataclass, ends by the signal itself, whoever caught it.
    """


def interrupt(number: int) -> NoReturn:
    """Note the signal, and raise ``Interrupted``."""
    global _signal  # noqa: PLW0603 - a process is asked to end, not a part of it
    _signal = number
    raise Interrupted


def asked_by() -> int | None:
    """Return the number of the signal that asked to end, None if none did."""
    return _signal


def heed() -> None:
    """Go no further if an end was asked for.

    Raises:
        Interrupted: it was.
    """
    if _signal is not None:
        raise Interrupted
