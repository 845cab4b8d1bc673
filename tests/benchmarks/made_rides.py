"""FIT files made up to be hard on a reader's framing; seeded, three hours each."""

from __future__ import annotations

from random import Random

from tests.telemetry.fitbytes import CYCLING, START, Layout, Raw, file_id, fit_file, table

SECONDS = 3 * 3600
LONG_SECONDS = 600_000

FIELDS = (
    "timestamp",
    "position_lat",
    "position_long",
    "distance",
    "altitude",
    "speed",
    "power",
    "cadence",
    "temperature",
)
LAYOUT = Layout("record", FIELDS)
SHORT = Layout("record", FIELDS[1:], local=2)


def made_rides() -> dict[str, bytes]:
    """Name -> content."""
    rows = _rows(SECONDS)
    other = Layout(0xFF01, (Raw(253, 4, 0x86), Raw(0, 12, 0x02)), local=1)
    by_turns = [LAYOUT.data(*row) + other.data(row[0], bytes([row[0] % 251]) * 12) for row in rows]
    first = rows[0]
    in_header = [SHORT.compressed(row[0], *row[1:]) for row in rows[1:]]
    defined = [table(LAYOUT, *rows[at : at + 12]) for at in range(0, len(rows), 12)]
    return {
        "one layout": fit_file(file_id(), table(LAYOUT, *rows), CYCLING),
        "two kinds by turns": fit_file(
            file_id(), LAYOUT.definition(), other.definition(), *by_turns, CYCLING
        ),
        "times in headers": fit_file(
            file_id(), table(LAYOUT, first), SHORT.definition(), *in_header, CYCLING
        ),
        "defined every 12 s": fit_file(file_id(), *defined, CYCLING),
    }


def long_ride() -> bytes:
    """A week in one file: tens of megabytes."""
    return fit_file(file_id(), table(LAYOUT, *_rows(LONG_SECONDS)), CYCLING)


def _rows(seconds: int) -> list[tuple[int, ...]]:
    random = Random(1)  # noqa: S311 - reproducible on purpose
    distance_cm = 0
    found: list[tuple[int, ...]] = []
    for t_s in range(seconds):
        speed_mmps = 6000 + random.randrange(-900, 900)
        distance_cm += speed_mmps // 10
        place = (500_000_000 + 40 * t_s, 100_000_000 + 30 * t_s)
        rest = (2600 + t_s % 40, speed_mmps, random.randrange(400), random.randrange(70, 95), 18)
        found.append((START + t_s, *place, distance_cm % 2**32, *rest))
    return found
