"""What happens in a run as lines of JSON on stderr, where somebody asked for that."""

from __future__ import annotations

import sys
from contextvars import ContextVar
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

_WANTED = ContextVar("lines of JSON", default=False)


def want(*, wanted: bool) -> None:
    """From now on write lines of JSON, or plain ones."""
    _WANTED.set(wanted)


def wanted() -> bool:
    """Whether stderr gets lines of JSON."""
    return _WANTED.get()


def write(event: str, facts: Mapping[str, object]) -> None:
    """Write one event, if that is wanted: when it was, what it was, and its facts."""
    if wanted():
        import json
        from datetime import UTC, datetime

        line = {"at": datetime.now(UTC).isoformat(timespec="milliseconds"), "event": event}
        sys.stderr.write(json.dumps(line | dict(facts), ensure_ascii=False, default=str) + "\n")
