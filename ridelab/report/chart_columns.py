"""What the columns of a chart's figures mean: as the relations say it that they are read from."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridelab.report.exhibit import Exhibit
    from ridelab.store import Column, Store

_SAID = re.compile(r"(?P<meaning>.*) \[(?P<unit>[^\[\]]+)\]")
_LADDER = ("measured_gears", "measured_steps", "published_gears")
_CLAIMED = ("verdicts", "claims", "pooled_claims")
_REPLAYED = ("replays", "replayed_gear_use")
#: The relations that the figures of a chart are read from, by its key, the nearest first.
_READ_FROM = {
    "service": ("service",),
    "ladders": _LADDER,
    "ladder": _LADDER,
    "deviations": _LADDER,
    "steps": ("measured_steps", "measured_gears"),
    "time_in_gear": _LADDER,
    "claims": _CLAIMED,
    "pooled": _CLAIMED,
    "combinations": ("published_combinations", "measured_gears"),
    "use_by_grade": ("use_by_grade",),
    "shift_pairs": ("shift_pairs",),
    "replays": _REPLAYED,
    "replayed_gears": ("replayed_gear_use", "replays"),
    "density": ("vehicles",),
    "rays": ("vehicles",),
    "residuals": ("measured_gears",),
    "residuals_by_speed": ("measured_gears",),
    "stretch": ("busiest_stretches", "samples", "ride_profiles", "rides"),
    "lags": ("lag_curves", "rides"),
}


def chart_columns(exhibits: Iterable[Exhibit], store: Store) -> Iterator[tuple[str, ...]]:
    """Yield the key of each kind of chart with a column of its figures, its unit and meaning."""
    seen: dict[str, None] = {}
    for exhibit in exhibits:
        if exhibit.key not in seen:
            seen[exhibit.key] = None
            told = [column for one in _READ_FROM[exhibit.key] for column in store.columns(one)]
            for name in exhibit.data.columns:
                yield (exhibit.key.replace("_", "-"), name, *_said(exhibit.key, name, told))


def _said(key: str, name: str, told: Sequence[Column]) -> tuple[str, str]:
    own = _own(key, name)
    if own is not None:
        return own
    return next(((one.unit, one.meaning) for one in told if one.name == name), ("", ""))


def _own(key: str, name: str) -> tuple[str, str] | None:
    """Return unit and meaning of a column that no relation tells of, of this chart or of any."""
    told = _told()
    said = told.get(key, {}).get(name) or told.get(name)
    found = _SAID.fullmatch(said) if isinstance(said, str) else None
    return None if found is None else (found["unit"], found["meaning"])


@cache
def _told() -> dict[str, Any]:
    return tomllib.loads(files("ridelab.report").joinpath("columns.toml").read_text("utf-8"))
