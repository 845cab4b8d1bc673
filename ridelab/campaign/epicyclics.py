"""Reads an epicyclic stage: planet sets by their teeth, and the states to be shifted to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridelab.campaign.table import shown
from ridelab.drivetrain import planets, stages, willis

if TYPE_CHECKING:
    from ridelab.campaign.table import Table
    from ridelab.drivetrain.planets import PlanetSet, PlanetStep
    from ridelab.drivetrain.stages import Stage
    from ridelab.drivetrain.willis import GearState

_STEP_KEYS = ("sun", "planet", "ring")
_SET_KEYS = (*_STEP_KEYS, "steps", "planets")
_STATE_KEYS = ("name", "locked", "held", "joined", "input", "output")
_KEYS = (*_SET_KEYS, "sets", "joined", "states")
_TEETH = "a whole tooth count"
_SETS = "tables, each { sun = 20, ring = 60 } or { steps = [...] }"
_STEPS = "tables, each { sun = 24, planet = 18, ring = 60 } or two of these"
_STATES = (
    'tables, each { locked = true } or { held = "sun", input = "ring", output = "carrier" }, '
    "also with joined = [...]"
)
_MEMBERS = 'names of members, such as "sun" or ["sun1", "ring"]'
_GROUPS = 'members that turn as one, such as ["a.carrier", "b.ring"], or a list of such lists'


def read_epicyclic(name: str, table: Table) -> Stage:
    """Return the stage of ``epicyclic = { ... }``.

    Raises:
        CampaignError: wheels that do not fit, or a state that no planet set can take.
    """
    epicyclic = table.table("epicyclic", _KEYS)
    if set(epicyclic.raw) <= {"sun", "ring"}:
        sun, ring = (epicyclic.integer(key, _TEETH) for key in ("sun", "ring"))
        with epicyclic.owning():
            return stages.epicyclic(name, sun, ring)
    sets = _sets(epicyclic)
    joined = _groups(epicyclic, "joined")
    if "states" not in epicyclic:
        if len(sets) > 1:
            epicyclic.fail("states", "missing", _STATES)
        with epicyclic.owning():
            return willis.from_planet_sets(name, sets, willis.usual_states(sets[0]), joined)
    states = [_state(raw, sets, joined) for raw in epicyclic.tables("states", _STATE_KEYS, _STATES)]
    names = [state.name or str(place) for place, state in enumerate(states, 1)]
    for place, one in enumerate(names):
        if one in names[:place]:
            epicyclic.fail("states", f"found {shown(one)} twice", "a name of its own for each")
    return willis.from_planet_sets(name, sets, states, joined)


def _sets(epicyclic: Table) -> tuple[PlanetSet, ...]:
    if "sets" not in epicyclic:
        return (_set(epicyclic, ""),)
    for key in _SET_KEYS:
        if key in epicyclic:
            epicyclic.fail(key, "found beside sets", "sets = [...] alone, or one set without it")
    tables = epicyclic.tables("sets", ("name", *_SET_KEYS), _SETS)
    if len(tables) == 1:
        return (_set(tables[0], ""),)
    found: dict[str, PlanetSet] = {}
    for place, table in enumerate(tables):
        name = table.text("name", chr(ord("a") + place % 26))
        if name in found or not name.isidentifier():
            accepted = "a name of its own for each set: letters, digits and _"
            table.fail("name", f"found {shown(name)}", accepted)
        found[name] = _set(table, name)
    return tuple(found.values())


def _set(table: Table, name: str) -> PlanetSet:
    if "steps" in table:
        for key in _STEP_KEYS:
            if key in table:
                table.fail(key, "found beside steps", "teeth in steps = [...], or one step alone")
        steps = [_step(raw) for raw in table.tables("steps", _STEP_KEYS, _STEPS)]
    else:
        if "planet" not in table:
            for key in ("sun", "ring"):
                table.integer(key, _TEETH)
        steps = [_step(table)]
    with table.owning():
        count = table.integer("planets", "how many planets there are", None)
        return planets.planet_set(steps, name, count)


def _step(table: Table) -> PlanetStep:
    with table.owning():
        return planets.planet_step(**{key: table.integer(key, _TEETH, None) for key in _STEP_KEYS})


def _state(
    table: Table, sets: tuple[PlanetSet, ...], joined: tuple[tuple[str, ...], ...]
) -> GearState:
    """Read one state, and have its ratio computed here, where an error knows where it stands."""
    name = table.text("name", "")
    if table.raw.get("locked", False) is not False:
        if table.raw["locked"] is not True:
            table.fail("locked", f"found {shown(table.raw['locked'])}", "true, or leave it out")
        for key in sorted(set(table.raw) - {"name", "locked"}):
            table.fail(key, "found beside locked = true", "locked = true alone: all turns as one")
        return willis.GearState(locked=True, name=name)
    state = willis.GearState(
        input=table.text("input", accepted=_MEMBERS),
        output=table.text("output", accepted=_MEMBERS),
        held=_members(table, "held"),
        joined=_groups(table, "joined"),
        name=name,
    )
    with table.owning():
        willis.state_ratio(sets, state, joined)
    return state


def _members(table: Table, key: str) -> tuple[str, ...]:
    if key not in table:
        return ()
    value = table.raw[key]
    return (value,) if isinstance(value, str) else tuple(table.items(key, str, _MEMBERS))


def _groups(table: Table, key: str) -> tuple[tuple[str, ...], ...]:
    if key not in table:
        return ()
    values: list[Any] = table.items(key, (str, list), _GROUPS)
    groups = [values] if all(isinstance(value, str) for value in values) else values
    for group in groups:
        if not isinstance(group, list) or not all(isinstance(member, str) for member in group):
            table.fail(key, f"found {shown(group)} in the list", _GROUPS)
        if len(group) < 2:
            table.fail(key, f"found {shown(group)}", _GROUPS)
    return tuple(tuple(group) for group in groups)
