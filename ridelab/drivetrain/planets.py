"""Planet sets: their members, whether their wheels fit together, and whether planets assemble."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from ridelab.errors import NotAccepted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

_MOST_TEETH = 500
_MOST_STEPS = 8
_MOST_PLANETS = 24
_TEETH = f"a whole tooth count from 1 to {_MOST_TEETH}"


@dataclass(frozen=True)
class PlanetStep:
    """One toothed step of the planets, and what meshes with it, in teeth.

    A plain set has one step. A stepped planet carries wheels of different size side by side, that
    turn as one.
    """

    planet: float
    sun: int | None = None
    ring: int | None = None


@dataclass(frozen=True)
class Mesh:
    """A central wheel and the step of the planets that it meshes with.

    ``sign`` is that of the turns they pass on, seen from the carrier: -1 between a sun and a
    planet, +1 between a ring, whose teeth point inward, and a planet.
    """

    member: str
    teeth: int
    planet: float
    sign: int


@dataclass(frozen=True)
class PlanetSet:
    """Suns and rings around planets that share one carrier.

    ``name`` stands before its members' names where there are several sets: "a.sun". ``planets``
    is how many there are, evenly spaced, if that is known.
    """

    steps: tuple[PlanetStep, ...]
    name: str = ""
    planets: int | None = None

    @property
    def carrier(self) -> str:
        """The name of the carrier."""
        return self._named("carrier")

    @property
    def suns(self) -> tuple[str, ...]:
        """The names of the suns in the order of their steps: "sun", or "sun1", "sun2"."""
        return tuple(mesh.member for mesh in self.meshes if mesh.sign < 0)

    @property
    def rings(self) -> tuple[str, ...]:
        """The names of the rings, as of the suns."""
        return tuple(mesh.member for mesh in self.meshes if mesh.sign > 0)

    @property
    def members(self) -> tuple[str, ...]:
        """Everything that can be held, driven or joined: suns, rings, carrier."""
        return (*self.suns, *self.rings, self.carrier)

    @property
    def meshes(self) -> tuple[Mesh, ...]:
        """Every pair of a central wheel and a planet's step."""
        return (*self._meshes("sun", -1), *self._meshes("ring", +1))

    def notes(self) -> Iterator[str]:
        """Yield what a maker would look at twice, though the ratios are what they are."""
        if self.planets and not assembles(self.meshes, self.planets):
            yield f"{self._named(f'{self.planets} planets')}, evenly spaced, cannot be assembled"
        distances = [distance for step in self.steps if (distance := _distance(step))]
        if any(one != other for one, other in pairwise(distances)):
            sizes = " and ".join(f"{distance:g}" for distance in distances)
            yield (
                f"{self._named('steps')} have teeth of different size: the distance from the axle "
                f"to a planet is {sizes} half teeth"
            )

    def _named(self, member: str) -> str:
        return f"{self.name}.{member}" if self.name else member

    def _meshes(self, kind: str, sign: int) -> Iterator[Mesh]:
        wheels = [
            (teeth, step.planet)
            for step in self.steps
            if (teeth := step.sun if sign < 0 else step.ring) is not None
        ]
        for place, (teeth, planet) in enumerate(wheels, 1):
            member = f"{kind}{place}" if len(wheels) > 1 else kind
            yield Mesh(self._named(member), teeth, planet, sign)


def planet_step(
    sun: int | None = None, planet: int | None = None, ring: int | None = None
) -> PlanetStep:
    """Return one step of the planets, in teeth, of a sun, a ring or both.

    All wheels of a step have teeth of one size, so ring = sun + 2 × planet. Without ``planet``,
    which the ratios of a plain set do not depend on, it follows from the other two.

    Raises:
        NotAccepted: a tooth count below 1; wheels that do not fit; too few of them.
    """
    for key, teeth in (("sun", sun), ("planet", planet), ("ring", ring)):
        if teeth is not None and not 1 <= teeth <= _MOST_TEETH:
            accepted = _TEETH
            if key == "ring" and sun and teeth > _MOST_TEETH:
                accepted = f"more teeth than the sun's {sun}, and at most {_MOST_TEETH}"
            raise NotAccepted(f"{teeth} teeth", accepted, key)
    if sun is not None and ring is not None:
        _check_room(sun, planet, ring)
        return PlanetStep((ring - sun) / 2, sun, ring)
    if planet is None:
        raise NotAccepted("no tooth count", f"{_TEETH}; or a sun and a ring", "planet")
    if sun is None and ring is None:
        raise NotAccepted("a planet that meshes with nothing", "a sun, a ring or both", "planet")
    if ring is not None and ring <= planet:
        raise NotAccepted(f"{ring} teeth", f"more than the planet's {planet}", "ring")
    return PlanetStep(planet, sun, ring)


def planet_set(
    steps: Sequence[PlanetStep], name: str = "", planets: int | None = None
) -> PlanetSet:
    """Return a set of planets with these steps, innermost or first as the maker counts them.

    Raises:
        NotAccepted: no step, too many, fewer than two wheels that planets could run between, or a
            number of planets that no hub has.
    """
    if not 1 <= len(steps) <= _MOST_STEPS:
        raise NotAccepted(f"{len(steps)} steps", f"1 to {_MOST_STEPS}", "steps")
    if planets is not None and not 1 <= planets <= _MOST_PLANETS:
        raise NotAccepted(f"{planets}", f"how many planets, 1 to {_MOST_PLANETS}", "planets")
    built = PlanetSet(tuple(steps), name, planets)
    if len(built.meshes) < 2:
        raise NotAccepted(
            "a single wheel beside the planets", "two or more suns and rings over all steps", ""
        )
    return built


def assembles(meshes: Sequence[Mesh], planets: int) -> bool:
    """Whether so many equal planets, evenly spaced, can be put between these wheels.

    The next planet stands 1/planets of a turn further and may be turned against the carrier by x;
    its teeth meet gaps where x · planet - sign · teeth / planets is a whole number in every mesh.
    For a plain set this is the rule of machine-design textbooks: (sun + ring) / planets is whole.
    """
    wheels = [(mesh.teeth, round(2 * mesh.planet), mesh.sign) for mesh in meshes]
    if any(planet % 2 for _, planet, _ in wheels):
        # half a tooth comes of a sun and a ring alone, whose planet's profile is shifted
        return sum(teeth for teeth, _, _ in wheels) % planets == 0
    (first, size, sign), *others = ((teeth, double // 2, s) for teeth, double, s in wheels)
    turned = (planets * whole + sign * first for whole in range(size))
    return any(
        all((x * planet - s * teeth * size) % (planets * size) == 0 for teeth, planet, s in others)
        for x in turned
    )


def _check_room(sun: int, planet: int | None, ring: int) -> None:
    if ring <= sun:
        raise NotAccepted(
            f"{ring} teeth",
            f"more teeth than the sun's {sun}, planets run between, and at most {_MOST_TEETH}",
            "ring",
        )
    if planet is not None and sun + 2 * planet != ring:
        fits = f"{(ring - sun) // 2}, half of what ring ({ring}) and sun ({sun}) differ by"
        if (ring - sun) % 2:
            fits = f"ring = sun + 2 × planet, such as ring = {sun + 2 * planet}"
        raise NotAccepted(f"{planet} teeth", f"{fits}; or leave planet out", "planet")


def _distance(step: PlanetStep) -> float:
    """Return from the axle to the planet's centre in half the size of this step's teeth."""
    return step.sun + step.planet if step.sun is not None else (step.ring or 0) - step.planet
