"""Which ride files belong to which vehicle, by the globs of the campaign."""

from __future__ import annotations

import glob
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ridelab.problems import Problem

if TYPE_CHECKING:
    from ridelab.campaign.model import Campaign

_STAGE = "campaign"


@dataclass(frozen=True)
class FoundRides:
    """The ride files of a campaign.

    ``files`` holds (vehicle, absolute path), vehicles in the order of the campaign file and paths
    sorted; a file is there once. ``problems`` tells of globs that match nothing, and of files that
    two vehicles claim, which go to neither.
    """

    files: tuple[tuple[str, Path], ...]
    problems: tuple[Problem, ...]


def find_rides(campaign: Campaign) -> FoundRides:
    """Expand the globs of all vehicles; ``**`` looks into all folders below.

    Files are told apart by where they are after links are followed.
    """
    problems: list[Problem] = []
    claimed: list[tuple[str, Path, str]] = []
    owners: dict[str, list[str]] = {}
    for vehicle in campaign.vehicles.values():
        found: dict[str, Path] = {}
        for pattern in vehicle.rides:
            matches = _matches(campaign.root, pattern)
            if not matches:
                problems.append(_nothing_matches(campaign.root, vehicle.name, pattern))
            for path in matches:
                found.setdefault(os.path.realpath(path), path)
        for identity, path in sorted(found.items(), key=lambda item: item[1]):
            owners.setdefault(identity, []).append(vehicle.name)
            claimed.append((vehicle.name, path, identity))
    problems += [_claimed_twice(file, names) for file, names in owners.items() if len(names) > 1]
    files = tuple((name, path) for name, path, file in claimed if len(owners[file]) == 1)
    return FoundRides(files, tuple(problems))


def _matches(root: Path, pattern: str) -> list[Path]:
    """Return the files, not folders, that a glob matches, as absolute paths.

    Not by Path.glob: it refuses absolute globs, and takes the hidden files that copying to and from
    some systems leaves beside each real one.
    """
    anywhere = Path(glob.escape(str(root))) / pattern
    matches = glob.iglob(str(anywhere), recursive=True)  # noqa: PTH207 - see above
    return [path for path in map(Path, matches) if path.is_file()]


def _nothing_matches(root: Path, vehicle: str, pattern: str) -> Problem:
    message = f"vehicle {vehicle!r}: no file matches this glob, taken from {root}"
    other_case = _matches(root, _any_case(pattern))
    if other_case:
        message += f"; {len(other_case)} would with other capitals, such as {other_case[0].name}"
    return Problem(pattern, _STAGE, "warning", message)


def _any_case(pattern: str) -> str:
    """Return a glob that also matches names whose capitals differ, outside its own brackets."""
    if "[" in pattern:
        return pattern
    return "".join(
        f"[{letter.lower()}{letter.upper()}]" if letter.isascii() and letter.isalpha() else letter
        for letter in pattern
    )


def _claimed_twice(file: str, vehicles: list[str]) -> Problem:
    names = " and ".join(repr(name) for name in vehicles)
    message = f"claimed by the globs of {names}; it is given to neither"
    return Problem(file, _STAGE, "error", message)
