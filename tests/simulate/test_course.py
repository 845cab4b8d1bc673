"""The road."""

from __future__ import annotations

import numpy as np
import pytest

from ridelab.simulate import Piece, build_course
from ridelab.simulate.course import SPACING_M

PIECES = (Piece(1000), Piece(500, grade=0.08), Piece(3000, hills=0.05, junctions_every_m=400))


def test_same_seed_same_road() -> None:
    """A course can be ridden again."""
    one, again, other = (build_course(PIECES, seed) for seed in (7, 7, 8))
    assert np.array_equal(one.grade, again.grade)
    assert one.junctions == again.junctions
    assert not np.array_equal(one.grade, other.grade)


def test_pieces_lie_end_to_end() -> None:
    """Length adds up, and a climb rises by its length times its grade."""
    course = build_course((Piece(1000), Piece(1000, grade=0.08), Piece(1000)), 1)
    assert course.length_m == 3000
    rise_m = course.altitude_m[-1] - course.altitude_m[0]
    assert rise_m == pytest.approx(80.0, abs=5.0)


def test_hills_are_as_steep_as_asked() -> None:
    """The steepest part comes near the stated grade and does not pass it by more than roughness."""
    grade = build_course((Piece(20000, hills=0.06),), 2).grade
    assert 0.05 < np.abs(grade).max() < 0.08


def test_altitude_is_the_sum_of_the_grades() -> None:
    """Height gained over a stretch is the integral of its grade."""
    course = build_course(PIECES, 1)
    assert course.altitude_m[99] == pytest.approx(course.grade[:100].sum() * SPACING_M)


def test_junctions_only_where_asked() -> None:
    """The junctions lie in the piece that has some, in order."""
    places = [junction.at_m for junction in build_course(PIECES, 5).junctions]
    assert places
    assert places == sorted(places)
    assert places[0] > 1500
    assert places[-1] < 4500
