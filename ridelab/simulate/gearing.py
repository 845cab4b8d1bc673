"""What the hand at the lever can choose: the settings of a drivetrain, and the way through them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.drivetrain.ladder import MERGE_WITHIN, published_ladder

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.drivetrain.ladder import Ladder
    from ridelab.drivetrain.stages import Drivetrain

#: A rider keeps the chain off this many sprockets at the far side of a chainring (common practice,
#: no source).
_CROSSED = 2
_FEWEST_UNCROSSED = 4
#: Changing the chainring, a rider makes up for it at the back until at least this much is won.
_WORTH_IT = 1.03


@dataclass(frozen=True)
class Setting:
    """One combination of the levers: its published gear, its ratio as built, where the levers are.

    ``front`` and ``rear`` count from 1 = lowest ratio; teeth are 0 where no chain is shifted.
    """

    gear: int
    ratio: float
    front: int = 1
    rear: int = 1
    front_teeth: int = 0
    rear_teeth: int = 0


@dataclass(frozen=True)
class Gears:
    """Settings, and for each the index of the one that a rider takes next, up and down.

    At either end the next is the same again.
    """

    settings: tuple[Setting, ...]
    up: tuple[int, ...]
    down: tuple[int, ...]

    @property
    def path(self) -> tuple[int, ...]:
        """Every setting on the way up from the lowest."""
        way = [0]
        while self.up[way[-1]] != way[-1]:
            way.append(self.up[way[-1]])
        return tuple(way)


@dataclass(frozen=True)
class Stepless:
    """Any ratio from ``lowest`` to ``highest``."""

    lowest: float
    highest: float


def from_ratios(ratios: Sequence[float]) -> Gears:
    """Return the gears of one lever over these ratios, lowest first."""
    return _rows(
        [[Setting(i, ratio, rear=i) for i, ratio in enumerate(ratios, 1)]],
    )


def from_drivetrain(
    published: Drivetrain, as_built: Drivetrain | None = None, merge_within: float = MERGE_WITHIN
) -> Gears | Stepless:
    """Return what a vehicle with this drivetrain offers.

    ``as_built`` has the same levers with other ratios, for a vehicle that is not what its data
    sheet says; gears keep the numbers of the published ladder.

    Raises:
        ValueError: ``as_built`` has another number of settings.
    """
    ladder = published_ladder(published, merge_within)
    built = as_built or published
    if ladder.stepless:
        return Stepless(*published_ladder(built).ends)
    ratios, printed = _grid(built), _grid(published)
    if ratios.shape != printed.shape:
        raise ValueError(f"as built {ratios.shape} settings, as published {printed.shape}")
    teeth = _teeth(built) or [[(0, 0)] * ratios.shape[1]] * ratios.shape[0]
    rows: list[list[Setting]] = []
    for front, row in enumerate(np.argsort(printed[:, 0]), 1):
        rows.append(
            [
                Setting(
                    _gear_of(printed[row, column], ladder),
                    float(ratios[row, column]),
                    front,
                    rear,
                    *teeth[row][column],
                )
                for rear, column in enumerate(np.argsort(printed[row]), 1)
            ]
        )
    return _rows(rows)


def _grid(drivetrain: Drivetrain) -> NDArray[np.float64]:
    """Overall ratios, the last lever along the columns, all others along the rows."""
    ratios, columns = np.ones(1), 1
    for stage in drivetrain.stages:
        ratios = np.outer(ratios, [choice.ratio for choice in stage.choices]).ravel()
        if stage.shifters:
            drivens = {driven for _, driven in stage.teeth}
            columns = len(drivens) if stage.shifters > 1 else len(stage.choices)
    return ratios.reshape(-1, columns)


def _teeth(drivetrain: Drivetrain) -> list[list[tuple[int, int]]]:
    """Teeth of every setting where the only thing shifted is one chain, else nothing."""
    shifted = [stage for stage in drivetrain.stages if stage.shifters]
    if len(shifted) != 1 or not shifted[0].teeth:
        return []
    columns = _grid(drivetrain).shape[1]
    teeth = list(shifted[0].teeth)
    return [teeth[start : start + columns] for start in range(0, len(teeth), columns)]


def _gear_of(ratio: float, ladder: Ladder) -> int:
    for gear in ladder.gears:
        if any(math.isclose(ratio, member, rel_tol=1e-9) for member in gear.members):
            return gear.number
    raise AssertionError(f"{ratio} is on no gear of {ladder.drivetrain}")


def _rows(rows: list[list[Setting]]) -> Gears:
    """Find the way through rows of settings: along a row, and over to the next near its end."""
    first = np.cumsum([0, *(len(row) for row in rows)]).tolist()
    up, down = [], []
    for front, row in enumerate(rows):
        crossed = min(_CROSSED, max(0, len(row) - _FEWEST_UNCROSSED))
        for rear, setting in enumerate(row):
            higher, lower = min(rear + 1, len(row) - 1), max(rear - 1, 0)
            next_up, next_down = first[front] + higher, first[front] + lower
            if front + 1 < len(rows) and rear + crossed + 1 >= len(row):
                above = [
                    i for i, s in enumerate(rows[front + 1]) if s.ratio > _WORTH_IT * setting.ratio
                ]
                next_up = first[front + 1] + above[0] if above else next_up
            if front > 0 and rear - crossed <= 0:
                below = [
                    i for i, s in enumerate(rows[front - 1]) if _WORTH_IT * s.ratio < setting.ratio
                ]
                next_down = first[front - 1] + below[-1] if below else next_down
            up.append(next_up)
            down.append(next_down)
    settings = tuple(setting for row in rows for setting in row)
    return Gears(settings, tuple(up), tuple(down))
