"""States of planet sets -> ratios: the linear system of Willis' equations, solved as a whole."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.drivetrain.stages import LEAST_RATIO, MOST_RATIO, Choice, Stage
from ridelab.errors import NotAccepted, nearest

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from ridelab.drivetrain.planets import PlanetSet

_TINY = 1e-9  # of turns for one turn of the input


@dataclass(frozen=True)
class GearState:
    """One setting of clutches and brakes.

    ``held`` members stand still with the axle; each group in ``joined`` turns as one; ``input``
    is driven, ``output`` drives what follows. ``locked``: all sets turn as one, whatever else.
    """

    input: str = ""
    output: str = ""
    held: tuple[str, ...] = ()
    joined: tuple[tuple[str, ...], ...] = ()
    locked: bool = False
    name: str = ""


LOCKED = GearState(locked=True)


def usual_states(planet_set: PlanetSet) -> tuple[GearState, ...]:
    """Return the states of a hub with one ring: each sun held in turn, and all locked.

    The ring drives the carrier (slower than the ring), or the carrier the ring (faster). Lowest
    ratio first.

    Raises:
        NotAccepted: no sun, or not exactly one ring: nothing is usual then.
    """
    suns, rings = planet_set.suns, planet_set.rings
    if not suns or len(rings) != 1:
        found = f"{len(suns)} suns and {len(rings)} rings, without states"
        raise NotAccepted(found, "states = [...]; they are known of a set with one ring", "states")
    ring, carrier = rings[0], planet_set.carrier
    down = [GearState(ring, carrier, (sun,)) for sun in suns]
    up = [GearState(carrier, ring, (sun,)) for sun in suns]
    states = [*down, LOCKED, *up]
    return tuple(sorted(states, key=lambda state: state_ratio((planet_set,), state)))


def from_planet_sets(
    name: str,
    sets: Sequence[PlanetSet],
    states: Sequence[GearState],
    joined: Sequence[tuple[str, ...]] = (),
) -> Stage:
    """Build the stage of these planet sets; its choices are the states, in the order given.

    ``joined`` groups are one piece in every state. A state without a name is known by its place.

    Raises:
        NotAccepted: as ``state_ratio``, for one of the states.
    """
    choices = tuple(
        Choice(state.name or str(place), state_ratio(sets, state, joined))
        for place, state in enumerate(states, 1)
    )
    return Stage(name, choices, notes=tuple(note for one in sets for note in one.notes()))


def state_ratio(
    sets: Sequence[PlanetSet], state: GearState, joined: Sequence[tuple[str, ...]] = ()
) -> float:
    """Return output turns over input turns in one state.

    Raises:
        NotAccepted: a member that there is not; an input that cannot turn, since too much is held
            or joined; an output that is left free, stands, runs backwards, or runs as nothing on a
            cycle does.
    """
    if state.locked:
        return 1.0
    turns = member_turns(sets, state, joined)
    ratio = turns[_known(state.output, turns, "output")]
    if ratio is None:
        raise NotAccepted(
            f"too little: {state.output!r} may turn as it likes while {state.input!r} is driven",
            "one more member held, or joined to another",
            "held",
        )
    if ratio < LEAST_RATIO or ratio > MOST_RATIO:
        how = "stands still" if abs(ratio) < _TINY else f"makes {ratio:.4g} turns"
        raise NotAccepted(
            f"{state.output!r}, which {how} for one of {state.input!r}",
            f"a member that turns {LEAST_RATIO:g} to {MOST_RATIO:g} times as fast, and forwards",
            "output",
        )
    return ratio


def member_turns(
    sets: Sequence[PlanetSet], state: GearState, joined: Sequence[tuple[str, ...]] = ()
) -> dict[str, float | None]:
    """Return the turns of every member for one turn of the input; None where they are left open.

    Willis' equation holds in every mesh of central wheel and planet: seen from the carrier, teeth
    pass one for one, teeth × (n - n_carrier) = ± planet × (n_planet - n_carrier), minus for a sun,
    plus for a ring. With a row n = 0 for every member held and a row n_i - n_j = 0 for every pair
    joined, the null space of the system holds all that the train can do. A set's planets are the
    member "planet".

    Raises:
        NotAccepted: a member that there is not, or an input that cannot turn.
    """
    members = [
        member
        for one in sets
        for member in (*one.members, f"{one.name}.planet" if one.name else "planet")
    ]
    index = {member: place for place, member in enumerate(members)}
    rows = [*_mesh_rows(sets, index), *_bound_rows(state, joined, index)]
    free = _null_space(np.array(rows))
    driven = free[index[_known(state.input, index, "input")]]
    if np.linalg.norm(driven) < _TINY:
        raise NotAccepted(
            f"too much: {state.input!r} is driven and cannot turn",
            "fewer members held, or joined to others",
            "held",
        )
    turns = free @ driven / (driven @ driven)
    left_open = np.linalg.norm(free - np.outer(turns, driven), axis=1) > _TINY
    return {
        member: None if left_open[place] else float(turns[place]) for member, place in index.items()
    }


def _mesh_rows(sets: Sequence[PlanetSet], index: dict[str, int]) -> Iterator[NDArray[np.float64]]:
    for one in sets:
        carrier = index[one.carrier]
        planet = index[f"{one.name}.planet" if one.name else "planet"]
        for mesh in one.meshes:
            # of the order of 1, so that ranks do not depend on how many teeth there are
            passed = mesh.sign * mesh.planet / mesh.teeth
            row = np.zeros(len(index))
            row[index[mesh.member]] = 1
            row[planet] = -passed
            row[carrier] = passed - 1
            yield row


def _bound_rows(
    state: GearState, joined: Sequence[tuple[str, ...]], index: dict[str, int]
) -> Iterator[NDArray[np.float64]]:
    unit = np.eye(len(index))
    for member in state.held:
        yield unit[index[_known(member, index, "held")]]
    for group in (*joined, *state.joined):
        first, *others = (index[_known(member, index, "joined")] for member in group)
        for other in others:
            yield unit[first] - unit[other]


def _null_space(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return an orthonormal basis of what the rows allow, one column a degree of freedom."""
    _, sizes, directions = np.linalg.svd(rows)
    rank = int((sizes > _TINY).sum())
    return np.ascontiguousarray(directions[rank:].T)


def _known(member: str, members: dict[str, int] | dict[str, float | None], key: str) -> str:
    if member not in members:
        known = [name for name in members if not name.endswith("planet")]
        raise NotAccepted(f"{member!r}" if member else "no member", nearest(member, known), key)
    return member
