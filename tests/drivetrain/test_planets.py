"""Planet sets hold wheels that fit, and say where planets cannot be assembled."""

from collections.abc import Callable
from math import gcd

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.drivetrain.planets import PlanetSet, PlanetStep, planet_set, planet_step
from ridelab.errors import NotAccepted

teeth = st.integers(8, 60)


def test_members_are_named_by_kind_and_place() -> None:
    """One of a kind needs no number; the set's name leads where it has one."""
    two_suns = planet_set([planet_step(18, 21, 60), planet_step(22, 16)])
    assert two_suns.members == ("sun1", "sun2", "ring", "carrier")
    assert planet_set([planet_step(20, ring=60)], "a").members == ("a.sun", "a.ring", "a.carrier")


@pytest.mark.parametrize(
    ("build", "key"),
    [
        (lambda: planet_step(0, 20, 40), "sun"),
        (lambda: planet_step(20, -3), "planet"),
        (lambda: planet_step(20, ring=600), "ring"),
        (lambda: planet_step(60, ring=60), "ring"),
        (lambda: planet_step(20, 21, 60), "planet"),
        (lambda: planet_step(20, 20, 61), "planet"),
        (lambda: planet_step(sun=20), "planet"),
        (lambda: planet_step(planet=20), "planet"),
        (lambda: planet_step(planet=20, ring=20), "ring"),
        (lambda: planet_set([]), "steps"),
        (lambda: planet_set([planet_step(20, 20)]), ""),
        (lambda: planet_set([planet_step(20, ring=60)], planets=0), "planets"),
    ],
)
def test_wheels_that_do_not_fit_are_refused(
    build: Callable[[], PlanetStep | PlanetSet], key: str
) -> None:
    """The refusal names the key at fault."""
    with pytest.raises(NotAccepted) as refusal:
        build()
    assert refusal.value.key == key


def test_planets_that_do_not_fit_are_told_what_would() -> None:
    """Ring = sun + 2 × planet, since all teeth of a step are of one size."""
    with pytest.raises(NotAccepted, match=r"20, half of what ring \(60\) and sun \(20\) differ by"):
        planet_step(20, 21, 60)


@given(sun=teeth, planet=teeth, count=st.integers(1, 6))
def test_plain_sets_assemble_by_the_textbook_rule(sun: int, planet: int, count: int) -> None:
    """(sun + ring) / planets is a whole number: machine-design textbooks, rule from memory."""
    notes = list(planet_set([planet_step(sun, planet, sun + 2 * planet)], planets=count).notes())
    assert (not notes) == ((2 * sun + 2 * planet) % count == 0)


@given(sun=teeth, one=teeth, two=teeth, more=st.integers(1, 60), count=st.integers(1, 6))
def test_stepped_planets_assemble_by_the_textbook_rule(
    sun: int, one: int, two: int, more: int, count: int
) -> None:
    """(sun · planet b + ring · planet a) / (planets · gcd of both) is whole.

    Textbooks of epicyclic trains; the rule from memory.
    """
    ring = two + more
    stepped = planet_set([planet_step(sun, one), planet_step(planet=two, ring=ring)], planets=count)
    told = any("cannot be assembled" in note for note in stepped.notes())
    assert told == ((sun * two + ring * one) % (count * gcd(one, two)) != 0)


def test_steps_of_different_teeth_are_noted() -> None:
    """18 + 21 is 39, 20 + 16 is 36: one distance, so teeth of two sizes."""
    (note,) = planet_set([planet_step(18, 21, 60), planet_step(20, 16)]).notes()
    assert "39 and 36" in note
    assert not list(planet_set([planet_step(18, 21, 60), planet_step(23, 16)]).notes())
