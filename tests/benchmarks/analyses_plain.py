"""The same analyses as a person would write them without a database: loops over a ride's rows.

Each takes rows of one ride, as tuples, and adds to what it has of the rides before.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise
from math import floor
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

#: vehicle, month; then the rows.
Ride = tuple[str, str, Any]
LONGEST_S = 10.0
CELLS, RESOLUTION_M, DEAD_BAND_M = 9, 60.0, 1.0


class Moments:
    """Seconds, metres and climbing of each ride."""

    COLUMNS = ("t_s", "speed_mps", "altitude_m", "distance_m")

    def __init__(self) -> None:
        self.found: list[tuple[str, float, float, float]] = []

    def add(self, ride: str, _vehicle: str, rows: Sequence[tuple[Any, ...]]) -> None:
        """Take one ride."""
        seconds, way, metres = [], [], []
        for (t, speed, _, at), (later, _, _, then) in pairwise(rows):
            until = later - t
            lasts = min(until, LONGEST_S)
            if at is not None and then is not None and then >= at:
                gone = then - at
            else:
                gone = (speed or 0.0) * lasts
            seconds.append(lasts)
            way.append(gone)
            metres.append(gone * lasts / until)
        along = [0.0]
        for gone in way:
            along.append(along[-1] + gone)
        heights = _smoothed(along, _road([row[0] for row in rows], along, [row[2] for row in rows]))
        climb = 0.0
        turns = _swings(heights)
        for begin, end in pairwise(turns):
            highest = heights[begin]
            for place in range(begin, end):
                if heights[end] > heights[begin] and heights[place + 1] > highest:
                    share = metres[place] / way[place] if way[place] else 1.0
                    climb += (heights[place + 1] - highest) * share
                    highest = heights[place + 1]
        self.found.append((ride, sum(seconds), sum(metres), climb))

    def result(self) -> list[tuple[Any, ...]]:
        """Rows of ride, seconds, metres, climb_m."""
        return sorted(self.found)


class Use:
    """Seconds, metres, climbing and work by gear, and by gear with grade, speed, hour, month."""

    COLUMNS = ("t_s", "gear", "coupled", "power_w", "seconds", "metres", "climb_m", "grade")

    def __init__(self) -> None:
        self.sums: dict[tuple[Any, ...], list[float]] = defaultdict(lambda: [0.0, 0.0, 0.0, 0.0])

    def add(self, month: str, vehicle: str, rows: Sequence[tuple[Any, ...]]) -> None:
        """Take one ride."""
        sums = self.sums
        for t, gear, coupled, power, seconds, metres, climb, grade in rows:
            if not coupled or gear is None or seconds <= 0:
                continue
            work = 0.0 if power is None else power * seconds
            keys = [
                ("gear", vehicle, gear),
                ("hour", vehicle, gear, int(t // 3600) + 1),
                ("month", vehicle, gear, month),
            ]
            if metres is not None:
                keys.append(("speed", vehicle, gear, floor(metres / seconds)))
            if grade is not None:
                band = max(-6, min(6, _nearest(grade / 0.02)))
                keys.append(("grade", vehicle, gear, round(band * 0.02 - 0.01, 2)))
            for key in keys:
                total = sums[key]
                total[0] += seconds
                total[1] += metres or 0.0
                total[2] += climb or 0.0
                total[3] += work

    def result(self) -> dict[tuple[Any, ...], list[float]]:
        """Sums by what they are by."""
        return dict(self.sums)


class Cadences:
    """Median cadence, the comfortable ones, and the time outside of them and why."""

    COLUMNS = ("gear", "coupled", "cadence_rpm", "seconds")

    def __init__(self, ladders: dict[str, dict[int, float]]) -> None:
        self.ladders = ladders
        self.seconds: dict[str, dict[tuple[int | None, int], float]] = defaultdict(
            lambda: defaultdict(float)
        )

    def add(self, _ride: str, vehicle: str, rows: Sequence[tuple[Any, ...]]) -> None:
        """Take one ride."""
        own = self.seconds[vehicle]
        for gear, coupled, cadence, seconds in rows:
            if coupled and cadence and seconds > 0:
                own[gear, _nearest(cadence)] += seconds

    def result(self) -> dict[tuple[str, ...], float]:
        """By vehicle: median, low, high, and seconds by side and reason."""
        out: dict[tuple[str, ...], float] = {}
        for vehicle, own in self.seconds.items():
            ladder = self.ladders[vehicle]
            inner = [gear for gear in ladder if min(ladder) < gear < max(ladder)]
            out[vehicle, "median"] = _until(own.items(), 0.5)
            chosen = [(key, value) for key, value in own.items() if key[0] in inner]
            low, high = _until(chosen, 0.1), _until(chosen, 0.9)
            out[vehicle, "low"], out[vehicle, "high"] = low, high
            for (gear, cadence), seconds in own.items():
                if gear is not None and not low <= cadence <= high:
                    side = "below" if cadence < low else "above"
                    why = _why(cadence * ladder[gear], ladder, low, high)
                    key = (vehicle, side, why)
                    out[key] = out.get(key, 0.0) + seconds
        return out


class Shifts:
    """Sweeps, with the gears, means around them, and how many a kilometre."""

    COLUMNS = (
        "t_s", "gear", "coupled", "metres", "speed_mps", "cadence_rpm", "power_w", "grade",
    )  # fmt: skip

    def __init__(self, ladders: dict[str, dict[int, float]]) -> None:
        self.ladders = ladders
        self.found: list[tuple[Any, ...]] = []
        self.metres: dict[str, float] = defaultdict(float)
        self.counts: dict[str, int] = defaultdict(int)

    def add(self, ride: str, vehicle: str, rows: Sequence[tuple[Any, ...]]) -> None:
        """Take one ride."""
        changes: list[tuple[int, int, bool]] = []
        before = last = None
        for place, (t, gear, coupled, metres, *_) in enumerate(rows):
            self.metres[vehicle] += metres or 0.0
            if gear is None:
                continue
            if last is not None and t - last > LONGEST_S:
                before = None
            if coupled:
                if before is not None and rows[before][1] != gear:
                    changes.append((before, place, last is not None and last > rows[before][0]))
                before = place
            last = t
        sweeps = list(_sweeps(changes, rows))
        ladder = self.ladders[vehicle]
        self.found += [(ride, *_told(sweep, rows, ladder)) for sweep in sweeps]
        self.counts[vehicle] += len(sweeps)

    def result(self) -> tuple[list[tuple[Any, ...]], dict[str, float]]:
        """Rows as of the relation shifts, and shifts a kilometre by vehicle."""
        often = {name: count / self.metres[name] * 1000 for name, count in self.counts.items()}
        return sorted(self.found), often


#: Places of the samples before and after, cadences told from and until, made while decoupled.
Sweep = tuple[int, int, float, float, bool]


def _sweeps(changes: list[tuple[int, int, bool]], rows: Sequence[tuple[Any, ...]]) -> list[Sweep]:
    """Join changes in one direction less than 3 s apart."""
    found: list[Sweep] = []
    for place, (left, reached, decoupled) in enumerate(changes):
        since, until = rows[left][0] - 3.0, rows[reached][0] + 3.0
        if place:
            since = max(since, rows[changes[place - 1][1]][0])
        if place + 1 < len(changes):
            until = min(until, rows[changes[place + 1][0]][0])
        coasting = decoupled and rows[reached][0] - rows[left][0] > 3.0
        if place and _same_sweep(changes[place - 1], changes[place], rows):
            first = found.pop()
            found.append((first[0], reached, first[2], until, first[4] or coasting))
        else:
            found.append((left, reached, since, until, coasting))
    return found


def _same_sweep(
    one: tuple[int, int, bool], other: tuple[int, int, bool], rows: Sequence[tuple[Any, ...]]
) -> bool:
    up = [rows[change[1]][1] > rows[change[0]][1] for change in (one, other)]
    at = [(rows[change[0]][0] + rows[change[1]][0]) / 2 for change in (one, other)]
    return bool(up[0] == up[1] and at[1] - at[0] < 3.0)


def _told(
    sweep: Sweep, rows: Sequence[tuple[Any, ...]], ladder: dict[int, float]
) -> tuple[Any, ...]:
    """Return the columns of a shift."""
    left, reached, since, until, coasting = sweep
    first, last = left, reached
    while first > 0 and rows[first - 1][0] >= since:
        first -= 1
    while last + 1 < len(rows) and rows[last + 1][0] <= until:
        last += 1
    inside = rows[left : reached + 1]
    before = [row[5] for row in rows[first : left + 1] if row[2] and row[1] is not None]
    after = [row[5] for row in rows[reached : last + 1] if row[2] and row[1] is not None]
    from_gear, to_gear = rows[left][1], rows[reached][1]
    return (
        (rows[left][0] + rows[reached][0]) / 2,
        from_gear,
        to_gear,
        ladder[to_gear] / ladder[from_gear] - 1,
        _mean([row[4] for row in inside]),
        _mean(before),
        _mean(after),
        _mean([row[6] for row in inside]),
        _mean([rows[left][7], rows[reached][7]]),
        coasting,
    )


def _mean(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None


def _until(items: Iterable[tuple[tuple[int | None, int], float]], share: float) -> float:
    """Least cadence that so much of the time does not exceed."""
    by_cadence: dict[int, float] = defaultdict(float)
    for (_, cadence), seconds in items:
        by_cadence[cadence] += seconds
    needed, passed = share * sum(by_cadence.values()), 0.0
    for cadence in sorted(by_cadence):
        passed += by_cadence[cadence]
        if passed >= needed:
            return cadence
    return max(by_cadence)


def _why(turned: float, ladder: dict[int, float], low: float, high: float) -> str:
    asked = [turned / ratio for ratio in ladder.values()]
    if max(asked) < low or min(asked) > high:
        return "no gear left"
    return "none chosen" if any(low <= one <= high for one in asked) else "step too wide"


def _nearest(value: float) -> int:
    """Round half away from zero, as SQL does."""
    return floor(value + 0.5) if value >= 0 else -floor(0.5 - value)


def _road(t_s: list[float], along: list[float], altitude: list[float | None]) -> list[float]:
    """Altitudes without changes while standing, and without jumps."""
    out: list[float] = []
    for place, height in enumerate(altitude):
        assert height is not None
        if not place:
            out.append(height)
            continue
        middle = (t_s[place] + t_s[place - 1]) / 2
        around = _at(t_s, along, middle + 3.0, place) - _at(t_s, along, middle - 3.0, place)
        rise, before = height - (altitude[place - 1] or 0.0), along[place] - along[place - 1]
        out.append(out[-1] + (rise if around >= 3.0 and abs(rise) <= before + 3.0 else 0.0))
    return out


def _at(xs: list[float], ys: list[float], x: float, near: int) -> float:
    """Linear interpolation, looking for the place from one nearby."""
    if x <= xs[0]:
        return ys[0]
    if x >= xs[-1]:
        return ys[-1]
    place = min(near, len(xs) - 2)
    while xs[place] > x:
        place -= 1
    while xs[place + 1] <= x:
        place += 1
    return ys[place] + (ys[place + 1] - ys[place]) * (x - xs[place]) / (xs[place + 1] - xs[place])


def _smoothed(along: list[float], altitude: list[float]) -> list[float]:
    """Height of the smoothed profile at each sample."""
    cell_m = RESOLUTION_M / CELLS
    sums: dict[int, list[float]] = {}
    for place, height in zip(along, altitude, strict=True):
        one = sums.setdefault(int((place - along[0]) / cell_m), [0.0, 0.0, 0.0])
        one[0] += 1.0
        one[1] += place
        one[2] += height
    cells = sorted(sums)
    places = [sums[cell][1] / sums[cell][0] for cell in cells]
    heights = [sums[cell][2] / sums[cell][0] for cell in cells]
    grid = [along[0] + (cell + 0.5) * cell_m for cell in range(cells[-1] + 1)]
    values = _on(grid, places, heights)
    for _ in range(2):
        values = _averaged(values)
    return _on(along, grid, values)


def _on(xs: list[float], places: list[float], heights: list[float]) -> list[float]:
    """Linear interpolation at rising places, on as it came beyond the ends."""
    out, place = [], 0
    for x in xs:
        while place < len(places) - 2 and places[place + 1] <= x:
            place += 1
        slope = (heights[place + 1] - heights[place]) / (places[place + 1] - places[place])
        out.append(heights[place] + slope * (x - places[place]))
    return out


def _averaged(values: list[float]) -> list[float]:
    around, last = CELLS // 2, len(values) - 1
    padded = (
        [2 * values[0] - values[n] for n in range(around, 0, -1)]
        + values
        + [2 * values[last] - values[last - n] for n in range(1, around + 1)]
    )
    return [sum(padded[n : n + CELLS]) / CELLS for n in range(len(values))]


def _swings(heights: list[float]) -> list[int]:
    found: list[int] = []
    trend = low = high = 0
    for at, height in enumerate(heights):
        if height > heights[high]:
            high = at
        if height < heights[low]:
            low = at
        if trend >= 0 and heights[high] - height >= DEAD_BAND_M:
            found.append(high)
            trend, low, high = -1, at, at
        elif trend <= 0 and height - heights[low] >= DEAD_BAND_M:
            found.append(low)
            trend, low, high = 1, at, at
    if trend:
        found.append(high if trend > 0 else low)
    return found
