"""Planet sets and their states can be written down, and what cannot be is told by its key."""

from collections.abc import Callable
from pathlib import Path

import pytest

from ridelab.campaign import Campaign

from .conftest import Refused

TWO_SUNS = "steps = [{ sun = 16, planet = 22, ring = 60 }, { sun = 22, planet = 16 }]"
SERIES = (
    "sets = [{ sun = 20, ring = 60 }, { name = 'second', sun = 24, ring = 72 }], "
    "joined = ['a.carrier', 'second.ring'], "
)


def hub(epicyclic: str) -> str:
    """Return a campaign with one drivetrain d of this epicyclic stage."""
    return f"[drivetrains.d]\nstages = [{{ name = 'hub', epicyclic = {{ {epicyclic} }} }}]\n"


@pytest.mark.parametrize(
    ("epicyclic", "ratios"),
    [
        ("sun = 20, ring = 60, planets = 4", (3 / 4, 1, 4 / 3)),
        ("sun = 20, planet = 20, ring = 60", (3 / 4, 1, 4 / 3)),
        ("sets = [{ sun = 20, ring = 60 }]", (3 / 4, 1, 4 / 3)),
        # 1 + sun/ring · ring's planet/sun's planet, Willis' equation with a stepped planet
        (TWO_SUNS, (1 / 1.5041667, 1 / 1.2666667, 1, 1.2666667, 1.5041667)),
        # a two-speed crank
        (
            (
                "sun = 24, ring = 60, states = [{ locked = true }, "
                "{ held = 'sun', input = 'carrier', output = 'ring' }]"
            ),
            (1, 1.4),
        ),
        # two sets in series, both suns held: 3/4 · 3/4; the second one locked by a clutch: 3/4
        (
            SERIES + "states = [{ held = ['a.sun', 'second.sun'], input = 'a.ring', "
            "output = 'second.carrier' }, { held = 'a.sun', joined = ['second.sun', "
            "'second.carrier'], input = 'a.ring', output = 'second.carrier' }]",
            (9 / 16, 3 / 4),
        ),
    ],
)
def test_planet_sets(
    read: Callable[[str], Campaign], epicyclic: str, ratios: tuple[float, ...]
) -> None:
    """Each way to write a hub makes the ladder of Willis' equation."""
    assert read(hub(epicyclic)).ladder("d").ratios == pytest.approx(ratios)


def test_the_hubs_of_the_readme(read: Callable[[str], Campaign]) -> None:
    """What README shows can be read; ratios by hand from its teeth."""
    readme = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
    text = readme.partition("### Hubs and cranks by their teeth")[2].split("```")[1]
    campaign = read(text.removeprefix("toml"))
    assert len(campaign.ladder("five").gears) == 5
    assert campaign.drivetrains["five"].stages[1].notes == ()
    assert campaign.ladder("two-speed-crank").ratios == pytest.approx((2, 2.8))
    assert campaign.ladder("two-sets").ratios == pytest.approx((9 / 16, 3 / 4, 1))


def test_states_can_be_named(read: Callable[[str], Campaign]) -> None:
    """Names of states become labels of gears."""
    text = "{ name = 'direct', locked = true }, { held = 'sun', input = 'carrier', output = 'ring'}"
    ladder = read(hub(f"sun = 24, ring = 60, states = [{text}]")).ladder("d")
    assert [gear.label for gear in ladder.gears] == ["direct", "2"]


def test_planets_that_cannot_be_assembled_are_noted(read: Callable[[str], Campaign]) -> None:
    """(20 + 62) / 3 is no whole number: the ratios stand, and the stage says so."""
    (stage,) = read(hub("sun = 20, ring = 62, planets = 3")).drivetrains["d"].stages
    assert stage.notes == ("3 planets, evenly spaced, cannot be assembled",)


PLAIN = "sun = 20, ring = 60"


@pytest.mark.parametrize(
    ("epicyclic", "key", "said"),
    [
        ("sun = 0, planet = 20, ring = 40", "sun", "found 0 teeth"),
        ("sun = 20, planet = 21, ring = 60", "planet", "or leave planet out"),
        ("planet = 20", "planet", "meshes with nothing"),
        ("planets = 3, ring = 60", "sun", "missing"),
        ("sun = 20, ring = 60, planets = 'x'", "planets", "found 'x'"),
        ("sun = 20, ring = 60, planets = 99", "planets", "1 to 24"),
        ("steps = [{ sun = 20, planet = 20 }]", "", "a single wheel beside the planets"),
        ("steps = []", "steps", "found an empty list"),
        ("steps = [{ sun = 60, planet = 9, ring = 40 }]", "steps#1.ring", "the sun's 60"),
        ("steps = [{ sun = 20, plant = 9 }]", "steps#1.plant", "did you mean 'planet'?"),
        (f"{PLAIN}, {TWO_SUNS}", "sun", "found beside steps"),
        (f"{PLAIN}, sets = [{{ {PLAIN} }}]", "sun", "found beside sets"),
        (f"sets = [{{ {PLAIN} }}, {{ {PLAIN} }}]", "states", "missing"),
        (f"sets = [{{name='x', {PLAIN} }}, {{name='x', {PLAIN}}}]", "sets#2.name", "found 'x'"),
        (f"{PLAIN}, states = []", "states", "found an empty list"),
        (f"{PLAIN}, states = [{{ locked = 1 }}]", "states#1.locked", "found 1"),
        (
            f"{PLAIN}, states = [{{ locked = true, held = 'sun' }}]",
            "states#1.held",
            "found beside locked = true",
        ),
        (f"{PLAIN}, states = [{{ held = 'sun' }}]", "states#1.input", "missing"),
        (
            f"{PLAIN}, states = [{{ locked = true }}, {{ locked = true, name = '1' }}]",
            "states",
            "found '1' twice",
        ),
        (
            f"{PLAIN}, states = [{{ locked = true }}, {{ input = 'ring', output = 'carrier' }}]",
            "states#2.held",
            "too little",
        ),
        (
            f"{PLAIN}, states = [{{ held = ['sun','ring'], input = 'carrier', output = 'ring' }}]",
            "states#1.held",
            "too much",
        ),
        (
            f"{PLAIN}, states = [{{ held = 'sun', input = 'ring', output = 'rng' }}]",
            "states#1.output",
            "did you mean 'ring'?",
        ),
        (
            f"{PLAIN}, states = [{{ joined = ['sun'], input = 'ring', output = 'ring' }}]",
            "states#1.joined",
            "members that turn as one",
        ),
        (f"{PLAIN}, joined = [['sun', 3]]", "joined", "found ['sun', 3]"),
        (f"{PLAIN}, joined = [['sun', 'rim']]", "joined", "found 'rim'"),
    ],
)
def test_impossible_planet_sets(refused: Refused, epicyclic: str, key: str, said: str) -> None:
    """The error names the step, set or state by its place, and the key in it."""
    error = refused(hub(epicyclic))
    assert error.key == ".".join(filter(None, ("drivetrains.d.stages#1.epicyclic", key)))
    assert said in str(error)
