"""The road: how steep it is at every metre, where a rider must stop, where a shop tests gears."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

#: Length of road that has one grade.
SPACING_M = 10.0
_BLEND_M = 60.0  # a road does not bend its slope at a point
_WAVES = 5
_ROUGH = 0.004  # standard deviation of the grade from one piece of road to the next
_LN_WAVELENGTHS_M = (math.log(350.0), math.log(2200.0))
_FIRST_JUNCTION_M = 250.0
_STOP_SHARE = 0.6  # of the junctions; at the others a rider only slows down
_SLOW_MPS = (2.5, 4.5)
_WAIT_S = (4.0, 35.0)


@dataclass(frozen=True)
class Junction:
    """A place to stop for ``wait_s`` (``speed_mps`` 0) or to pass slowly."""

    at_m: float
    speed_mps: float
    wait_s: float


@dataclass(frozen=True)
class Piece:
    """A part of a course: a constant ``grade`` (rise over run) with hills as steep as ``hills``.

    ``junctions_every_m``: mean distance of the places to stop or slow down, None for none.
    ``sweep``: a rider who tests rides through all gears from its start on.
    """

    length_m: float
    grade: float = 0.0
    hills: float = 0.0
    junctions_every_m: float | None = None
    sweep: bool = False


@dataclass(frozen=True)
class Course:
    """A road. ``grade`` and ``altitude_m`` have one value every ``SPACING_M`` from its start."""

    grade: NDArray[np.float64]
    altitude_m: NDArray[np.float64]
    heading_rad: NDArray[np.float64]
    junctions: tuple[Junction, ...] = ()
    sweeps_m: tuple[float, ...] = ()

    @property
    def length_m(self) -> float:
        """Length of the road; it goes on level after that."""
        return len(self.grade) * SPACING_M


def build_course(pieces: Sequence[Piece], seed: int) -> Course:
    """Lay pieces end to end; the same seed lays the same road."""
    rng = np.random.default_rng(seed)
    grade = _surface(np.concatenate([_grade(piece, rng) for piece in pieces]), rng)
    starts = np.cumsum([0.0, *(piece.length_m for piece in pieces)])
    junctions = [
        junction
        for start, piece in zip(starts, pieces, strict=False)
        for junction in _junctions(float(start), piece, rng)
    ]
    return Course(
        grade=grade,
        altitude_m=np.cumsum(grade) * SPACING_M,
        heading_rad=2.5 * _waves(len(grade), rng),
        junctions=tuple(junctions),
        sweeps_m=tuple(
            float(start) for start, piece in zip(starts, pieces, strict=False) if piece.sweep
        ),
    )


def _surface(grade: NDArray[np.float64], rng: np.random.Generator) -> NDArray[np.float64]:
    """Blend the grades of neighbouring pieces, and add how uneven a road is."""
    width = round(_BLEND_M / SPACING_M)
    padded = np.pad(grade, (width // 2, width - 1 - width // 2), mode="edge")
    blended = np.convolve(padded, np.ones(width) / width, "valid")
    return np.asarray(blended + rng.normal(0.0, _ROUGH, len(grade)))


def _grade(piece: Piece, rng: np.random.Generator) -> NDArray[np.float64]:
    count = round(piece.length_m / SPACING_M)
    if not piece.hills:
        return np.full(count, piece.grade)
    return piece.grade + piece.hills * _waves(count, rng)


def _waves(count: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """Sum of sinusoids that reaches 1 or -1 once and never passes them."""
    at_m = np.arange(count) * SPACING_M
    lengths_m = np.exp(rng.uniform(*_LN_WAVELENGTHS_M, _WAVES))
    phases = rng.uniform(0.0, 2.0 * np.pi, _WAVES)
    waves = np.sin(2.0 * np.pi * at_m / lengths_m[:, None] + phases[:, None]).sum(axis=0)
    return np.asarray(waves / np.abs(waves).max())


def _junctions(start_m: float, piece: Piece, rng: np.random.Generator) -> list[Junction]:
    found: list[Junction] = []
    if piece.junctions_every_m is None:
        return found
    at_m = _FIRST_JUNCTION_M
    while at_m < piece.length_m:
        stop = rng.random() < _STOP_SHARE
        slow, wait = float(rng.uniform(*_SLOW_MPS)), float(rng.uniform(*_WAIT_S))
        found.append(Junction(start_m + at_m, 0.0 if stop else slow, wait if stop else 0.0))
        at_m += piece.junctions_every_m * float(rng.uniform(0.5, 1.5))
    return found
