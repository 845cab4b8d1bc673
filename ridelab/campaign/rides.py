"""Which ride files belong to which vehicle, by the globs of the campaign."""

from __future__ import annotations

import glob
import os
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ridelab.errors import CampaignError, RemoteError
from ridelab.objects import Remote, checked, is_object, matching
from ridelab.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from ridelab.campaign.model import Campaign
    from ridelab.problems import Severity

_STAGE = "campaign"
_FOLDER = "a folder"


@dataclass(frozen=True)
class FoundRides:
    """The ride files of a campaign.

    ``files`` holds (vehicle, absolute path or object of a store), vehicles in the order of the
    campaign file and paths sorted; a file is there once. Behind them, without a vehicle, those that
    only the globs of the campaign itself name. ``problems`` tells of globs that match nothing, of
    what they match that is no file, and of files that two vehicles claim, which go to neither.
    ``without`` names the vehicles that have globs and are left with no file.
    """

    files: tuple[tuple[str | None, Path | Remote], ...]
    problems: tuple[Problem, ...]
    without: tuple[str, ...]


def find_rides(campaign: Campaign) -> FoundRides:
    """Expand the globs of all vehicles; ``**`` looks into all folders below.

    Files are told apart by where they are after links are followed, objects by their URLs.

    Raises:
        RemoteError: an object store that a glob names cannot be asked.
    """
    problems: list[Problem] = []
    claimed: list[tuple[str, Path | Remote, str]] = []
    owners: dict[str, list[str]] = {}
    for vehicle in campaign.vehicles.values():
        paths, odd = _of_globs(campaign.root, f"vehicle {vehicle.name!r}", vehicle.rides)
        problems += odd
        for identity, path in _each_once(paths):
            owners.setdefault(identity, []).append(vehicle.name)
            claimed.append((vehicle.name, path, identity))
    problems += [_claimed_twice(file, names) for file, names in owners.items() if len(names) > 1]
    files = [(name, path) for name, path, file in claimed if len(owners[file]) == 1]
    supplied = {name for name, _ in files}
    shared, odd = _of_globs(campaign.root, "campaign", campaign.rides)
    unclaimed = [(None, path) for identity, path in _each_once(shared) if identity not in owners]
    without = [one.name for one in campaign.vehicles.values() if one.rides]
    return FoundRides(
        (*files, *unclaimed),
        (*problems, *odd),
        tuple(name for name in without if name not in supplied),
    )


def require_rides(campaign: Campaign, found: FoundRides) -> None:
    """Refuse a campaign that leaves nothing to read.

    Raises:
        CampaignError: it names no vehicle, or none of its vehicles has a file.
    """
    where = campaign.file or "--rides"
    if not campaign.vehicles:
        accepted = "a table for each, such as [vehicles.heron]; `ridelab new DIR` writes one"
        raise CampaignError(where, "vehicles", "no vehicle", accepted)
    if not found.files:
        accepted = f"globs, taken from {campaign.root}, that match one file or more"
        raise CampaignError(where, "", "no ride file for any vehicle: nothing to do", accepted)


def _of_globs(
    root: Path, whose: str, patterns: Iterable[str]
) -> tuple[list[Path | Remote], list[Problem]]:
    """Return the files that globs match, and what is odd about the globs."""
    paths: list[Path | Remote] = []
    problems: list[Problem] = []
    for pattern in map(checked, patterns):
        if is_object(pattern):
            remotes = _objects(pattern)
            paths += remotes
            if not remotes:
                message = f"{whose}: no object matches this glob"
                problems.append(Problem(pattern, _STAGE, "warning", message))
            continue
        reasons = {path: _unusable(path) for path in _matches(root, pattern)}
        files = [path for path, reason in reasons.items() if not reason]
        others = {path: reason for path, reason in reasons.items() if reason}
        paths += files
        told = _folder_itself(whose, pattern, others)
        told = told or _no_files(whose, pattern, others)
        if not files and not told:
            told = [_nothing_matches(root, whose, pattern)]
        problems += told
    return paths, problems


def _objects(pattern: str) -> list[Remote]:
    try:
        return matching(pattern)
    except OSError as error:
        # what cannot be listed is not gone: nothing is to be concluded from this run
        raise RemoteError(f"{pattern}: {error.strerror}") from error


def _each_once(found: Iterable[Path | Remote]) -> list[tuple[str, Path | Remote]]:
    """Return (identity, file) of each file, those of folders first."""
    every = list(found)
    objects = {one.url: one for one in every if isinstance(one, Remote)}
    files = _files_once(one for one in every if isinstance(one, Path))
    return [*files, *sorted(objects.items())]


def _files_once(paths: Iterable[Path]) -> list[tuple[str, Path]]:
    """Return (identity, path) of each file, by path; a file itself goes before links to it."""
    found: dict[str, Path] = {}
    folders: dict[Path, str] = {}
    real = [(_real(path, folders), path) for path in paths]
    for identity, path in sorted(real, key=lambda one: (one[0] != str(one[1]), one[1])):
        found.setdefault(identity, path)
    return sorted(found.items(), key=lambda item: item[1])


def _real(path: Path, folders: dict[Path, str]) -> str:
    """Return where a file is after links are followed; those of ``folders`` are followed once."""
    if path.is_symlink():
        return os.path.realpath(path)
    folder = folders.get(path.parent)
    if folder is None:
        folder = folders[path.parent] = os.path.realpath(path.parent)
    return str(Path(folder, path.name))


def _matches(root: Path, pattern: str) -> list[Path]:
    """Return what a glob matches, as sorted absolute paths.

    Not by Path.glob: it refuses absolute globs, and takes the hidden files that copying to and from
    some systems leaves beside each real one.
    """
    anywhere = Path(glob.escape(str(root))) / pattern
    return sorted(map(Path, glob.iglob(str(anywhere), recursive=True)))  # noqa: PTH207 - see above


def _unusable(path: Path) -> str:
    """Return why a path is no file to read, empty where it is one."""
    try:
        mode = path.stat().st_mode
    except PermissionError:
        return ""  # who opens it says what is wrong with it
    except OSError:
        return f"a link that leads nowhere, to {os.path.realpath(path)}"
    if stat.S_ISDIR(mode):
        return _FOLDER
    return "" if stat.S_ISREG(mode) else "neither a file nor a folder"


def _folder_itself(whose: str, pattern: str, others: Mapping[Path, str]) -> list[Problem]:
    """Tell of a glob that names a folder where its files were meant."""
    if glob.has_magic(pattern) or _FOLDER not in others.values():
        return []
    inside = f"{pattern.rstrip('/')}/*.fit"
    message = f"{whose}: is a folder; accepted: the files in it, such as {inside!r}"
    return [Problem(pattern, _STAGE, "warning", message)]


def _no_files(whose: str, pattern: str, others: Mapping[Path, str]) -> list[Problem]:
    """Tell of matches that are no files; of folders only where the glob asks for an ending.

    ``rides/*`` matches folders as a matter of course, ``rides/*.fit`` does not.
    """
    problems = []
    for path, reason in others.items():
        severity: Severity = "warning" if reason == _FOLDER else "error"
        if severity == "error" or Path(pattern).suffix:
            message = f"{whose}: {reason}, not a ride file: left out"
            problems.append(Problem(str(path), _STAGE, severity, message))
    return problems


def _nothing_matches(root: Path, whose: str, pattern: str) -> Problem:
    message = f"{whose}: no file matches this glob, taken from {root}"
    other_case = [path for path in _matches(root, _any_case(pattern)) if path.is_file()]
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
