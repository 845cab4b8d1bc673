"""Loggers and CSV files for tests, built in the test that needs them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from ridelab.campaign.loggers import Channel, Logger, TimeColumn
from ridelab.telemetry import logs

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ridelab.campaign.loggers import LoggedQuantity
    from ridelab.telemetry import Ride

PATH = Path("bench-20310504-0800.csv")


def logger(form: str = "seconds", name: str = "bench", **channels: float) -> Logger:
    """A logger with a column of its own name for each quantity, worth that many SI units."""
    known: dict[LoggedQuantity, float] = channels  # type: ignore[assignment]
    made = tuple(Channel(quantity, quantity, si) for quantity, si in known.items())
    return Logger(name, TimeColumn("t", form), made)


#: Speed and cadence in SI, seconds since the start.
PLAIN = logger(speed=1.0, cadence=1.0)


def table(header: str, rows: Iterable[Sequence[object]], delimiter: str = ",") -> str:
    """A CSV file; None is an empty field."""
    lines = [delimiter.join("" if one is None else f"{one}" for one in row) for row in rows]
    return "\n".join([header, *lines, ""])


def read(text: str | bytes, *loggers: Logger, rollout_m: float | None = None) -> Ride:
    """Read a file by the loggers given, by ``PLAIN`` if none is."""
    content = text.encode() if isinstance(text, str) else text
    return logs.read(PATH, content, loggers or (PLAIN,), rollout_m)


def told(ride: Ride) -> list[str]:
    """What was odd about it."""
    return [problem.message for problem in ride.problems]
