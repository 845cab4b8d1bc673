"""States of planet sets turn as Willis' equation says, and what cannot turn is refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.drivetrain.planets import PlanetSet, planet_set, planet_step
from ridelab.drivetrain.stages import epicyclic
from ridelab.drivetrain.willis import (
    LOCKED,
    GearState,
    from_planet_sets,
    member_turns,
    state_ratio,
    usual_states,
)
from ridelab.errors import NotAccepted

teeth = st.integers(8, 60)
PLAIN = planet_set([planet_step(20, ring=60)])
TWO_SUNS = planet_set([planet_step(18, 21, 60), planet_step(23, 16)])


def plain(sun: int, ring: int, name: str = "") -> PlanetSet:
    """Return a plain set."""
    return planet_set([planet_step(sun, ring=ring)], name)


def test_sun_drives_carrier_in_a_held_ring() -> None:
    """Sun 20 at 100 rpm, planets 30, ring 80 held: arm 20 rpm alike, planets 33.3 rpm against it.

    Shigley's Mechanical Engineering Design, the worked example of planetary trains (its figures
    from memory).
    """
    turns = member_turns(
        [planet_set([planet_step(20, 30, 80)])], GearState("sun", "carrier", ("ring",))
    )
    assert turns == pytest.approx({"sun": 1, "ring": 0, "carrier": 0.2, "planet": -1 / 3})


def test_nearly_equal_suns_turn_slowly_and_against_each_other() -> None:
    """Suns of 100 (held), 99 and 101 on one planet of 20: arm 100 rpm, suns -1.01 and 0.99 rpm.

    Norton, Design of Machinery: the paradox with an arm and three suns (its figures from memory).
    """
    suns = planet_set([planet_step(sun, 20) for sun in (100, 99, 101)])
    turns = member_turns([suns], GearState("carrier", "sun3", ("sun1",)))
    assert turns["sun2"] == pytest.approx(-0.0101, abs=5e-5)
    assert turns["sun3"] == pytest.approx(0.0099, abs=5e-5)


@given(sun=teeth, one=teeth, two=teeth, more=st.integers(1, 60))
def test_a_stepped_planet_multiplies_both_meshes(sun: int, one: int, two: int, more: int) -> None:
    """Sun drives the carrier, ring held: 1 + (planet a · ring) / (sun · planet b) turns of the sun.

    Textbooks of epicyclic trains; the formula from memory.
    """
    stepped = planet_set([planet_step(sun, one), planet_step(planet=two, ring=two + more)])
    ratio = 1 + one * (two + more) / (sun * two)
    turns = member_turns([stepped], GearState("sun", "carrier", ("ring",)))
    assert turns["carrier"] == pytest.approx(1 / ratio)


@given(first=st.tuples(teeth, teeth), second=st.tuples(teeth, teeth))
def test_sets_joined_in_series_multiply(first: tuple[int, int], second: tuple[int, int]) -> None:
    """Carrier of a on the ring of b, both suns held: the product of what each makes alone.

    The reference is Willis' equation for each set by itself.
    """
    (sun_a, planet_a), (sun_b, planet_b) = first, second
    rings = sun_a + 2 * planet_a, sun_b + 2 * planet_b
    sets = [plain(sun_a, rings[0], "a"), plain(sun_b, rings[1], "b")]
    state = GearState("a.ring", "b.carrier", ("a.sun", "b.sun"))
    product = 1 / (1 + sun_a / rings[0]) / (1 + sun_b / rings[1])
    assert state_ratio(sets, state, [("a.carrier", "b.ring")]) == pytest.approx(product)


def test_two_sets_share_ring_and_carrier() -> None:
    """Suns as one, ring of a on the carrier of b, ring of b held: a train of two coupled sets.

    By hand with sun 30 and ring 74 in both (e = 74/30): b gives n_s = n_cb (1 + e), a gives
    n_s - n_ca = -e (n_ra - n_ca) with n_ra = n_cb, so n_cb (1 + 2 e) = n_ca (1 + e).
    """
    sets = [plain(30, 74, "a"), plain(30, 74, "b")]
    state = GearState("a.carrier", "b.carrier", ("b.ring",))
    e = 74 / 30
    ratio = state_ratio(sets, state, [("a.sun", "b.sun"), ("a.ring", "b.carrier")])
    assert ratio == pytest.approx((1 + e) / (1 + 2 * e))


@given(sun=teeth, planet=teeth)
def test_the_usual_states_of_a_plain_set_are_its_three_speeds(sun: int, planet: int) -> None:
    """The general solution agrees with the three speeds in closed form."""
    ring = sun + 2 * planet
    stage = from_planet_sets("hub", [plain(sun, ring)], usual_states(plain(sun, ring)))
    closed = [choice.ratio for choice in epicyclic("hub", sun, ring).choices]
    assert [choice.ratio for choice in stage.choices] == pytest.approx(closed)


@pytest.mark.parametrize(
    ("sun", "ring", "published"), [(20, 60, (0.75, 1, 1.333)), (24, 66, (0.733, 1, 1.364))]
)
def test_three_speed_hubs_as_published(
    sun: int, ring: int, published: tuple[float, float, float]
) -> None:
    """75, 100, 133 % and 73, 100, 136 %, as three-speed hubs are published, from memory."""
    stage = from_planet_sets("hub", [plain(sun, ring)], usual_states(plain(sun, ring)))
    assert [choice.ratio for choice in stage.choices] == pytest.approx(published, abs=1e-3)


def test_a_compound_five_speed() -> None:
    """Two suns make five speeds: 66.7, 78.9, 100, 126.6 and 150 % as published, from memory.

    Tooth counts are our own, chosen to come within 2 in 1000.
    """
    hub = planet_set([planet_step(19, 26, 71), planet_step(26, 19)])
    ratios = [choice.ratio for choice in from_planet_sets("hub", [hub], usual_states(hub)).choices]
    assert ratios == pytest.approx([0.667, 0.789, 1, 1.266, 1.5], rel=0.002)


def test_a_two_speed_crank() -> None:
    """The crank drives the carrier, the ring turns the chainring: 1 and 1 + sun/ring."""
    states = [LOCKED, GearState("carrier", "ring", ("sun",), name="fast")]
    stage = from_planet_sets("crank", [plain(24, 60)], states)
    assert [(choice.label, choice.ratio) for choice in stage.choices] == [
        ("1", 1.0),
        ("fast", pytest.approx(1.4)),
    ]
    assert stage.shifters == 1


def test_joined_members_lock_a_set() -> None:
    """A clutch between any two members of a plain set turns all of it as one."""
    state = GearState("ring", "carrier", joined=(("sun", "carrier"),))
    assert state_ratio([PLAIN], state) == pytest.approx(1)


@given(sun=teeth, planet=teeth)
def test_willis_holds_between_all_members(sun: int, planet: int) -> None:
    """(n_sun - n_carrier) / (n_ring - n_carrier) = -ring/sun, whichever member is held."""
    ring = sun + 2 * planet
    for held, driven in (("sun", "ring"), ("ring", "carrier"), ("carrier", "sun")):
        turns = member_turns([plain(sun, ring)], GearState(driven, held, (held,)))
        n_sun, n_ring, n_carrier = (turns[member] for member in ("sun", "ring", "carrier"))
        assert n_sun is not None
        assert n_ring is not None
        assert n_carrier is not None
        assert (n_sun - n_carrier) * sun == pytest.approx(-ring * (n_ring - n_carrier))


@pytest.mark.parametrize(
    ("state", "key", "said"),
    [
        (GearState("ring", "carrier"), "held", "too little: 'carrier' may turn as it likes"),
        (GearState("ring", "carrier", ("sun1", "sun2")), "held", "too much: 'ring' is driven"),
        (GearState("ring", "carrier", ("ring",)), "held", "too much"),
        (GearState("ring", "sun1", ("carrier",)), "output", "makes -3.333 turns"),
        (GearState("ring", "sun1", ("sun1",)), "output", "stands still"),
        (GearState("ring", "carier", ("sun1",)), "output", "did you mean 'carrier'?"),
        (GearState("rng", "carrier", ("sun1",)), "input", "did you mean 'ring'?"),
        (GearState("ring", "carrier", ("sun",)), "held", "known: carrier, ring, sun1, sun2"),
        (GearState("ring", "carrier", (), (("sun1", "x"),)), "joined", "found 'x'"),
        (GearState("", "carrier", ("sun1",)), "input", "no member"),
    ],
)
def test_states_that_cannot_be_are_refused(state: GearState, key: str, said: str) -> None:
    """What is held too much or too little is told, and what was named wrongly."""
    with pytest.raises(NotAccepted) as refusal:
        state_ratio([TWO_SUNS], state)
    assert refusal.value.key == key
    assert said in str(refusal.value)


def test_an_idle_set_may_turn_as_it_likes() -> None:
    """Only the output must be determined: a set that is not joined to anything is no error."""
    state = GearState("a.ring", "a.carrier", ("a.sun",))
    assert state_ratio([plain(20, 60, "a"), plain(24, 72, "b")], state) == pytest.approx(0.75)
    turns = member_turns([plain(20, 60, "a"), plain(24, 72, "b")], state)
    assert turns["b.ring"] is None


def test_nothing_is_usual_with_two_rings() -> None:
    """States must be told where no common ones are known."""
    rings = planet_set([planet_step(planet=20, ring=60), planet_step(planet=16, ring=56)])
    with pytest.raises(NotAccepted, match="0 suns and 2 rings, without states"):
        usual_states(rings)
