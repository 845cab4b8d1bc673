"""The errors a person can cause, as one family.

RidelabError                  anything ridelab itself reports; its text is the message for the user
├── UsageError                the command line or a call asked for something that does not exist
│   └── NotAccepted              a value is not in a form, or not in the bounds, that ridelab takes
├── CampaignError             campaign.toml or a pipeline file says something that cannot be
├── RideError                 one file cannot be used as a ride; the others still can
│   ├── NotARide              readable, but holds nothing to measure: settings, a run, no records
│   └── DamagedFile           not readable, or not as far as its first record
│       └── UnknownFormat        of no format that ridelab reads
├── StoreError                the store cannot do what was asked
│   └── StoreBusy             another run holds it
├── ClusterError              workers on other machines cannot do what was asked
└── RemoteError               an object store or a lake cannot be used
"""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


class RidelabError(Exception):
    """The root: catch this to catch everything ridelab reports."""

    exit_code = 1


class UsageError(RidelabError):
    """A command, relation, vehicle or option that does not exist was asked for."""

    exit_code = 2


class NotAccepted(UsageError):  # noqa: N818
    """One value cannot be used; whoever knows the file it stands in turns it into a CampaignError.

    ``key`` is empty where the caller alone knows what the value was for.
    """

    def __init__(self, found: str, accepted: str, key: str = "") -> None:
        self.found, self.accepted, self.key = found, accepted, key
        super().__init__((f"{key}: " if key else "") + f"found {found}; accepted: {accepted}")


class CampaignError(RidelabError):
    """A campaign or pipeline file is wrong; the text names file, key, what was found, accepted."""

    exit_code = 2

    def __init__(self, file: object, key: str, found: str, accepted: str = "") -> None:
        self.file, self.key, self.found, self.accepted = str(file), key, found, accepted
        where = f"{file}: {key}" if key else f"{file}"
        super().__init__(f"{where}: {found}" + (f"; accepted: {accepted}" if accepted else ""))


class RideError(RidelabError):
    """A file that cannot be used as a ride."""


class NotARide(RideError):  # noqa: N818 - reads as the reason a file was set aside
    """The file can be read but holds no cycling ride to measure."""


class DamagedFile(RideError):  # noqa: N818
    """The file breaks off or breaks its format before its first record."""


class UnknownFormat(DamagedFile):
    """The content is of no format that ridelab reads."""


class StoreError(RidelabError):
    """The store cannot be opened, read or written."""


class StoreBusy(StoreError):  # noqa: N818
    """Another process holds the store; ``holder`` names it, empty where it is this one."""

    exit_code = 4

    def __init__(self, message: str, holder: str = "") -> None:
        self.holder = holder
        super().__init__(message)


class ClusterError(RidelabError):
    """The scheduler of a cluster is not there, or its workers cannot do the work of a run."""


class RemoteError(RidelabError):
    """An object store or a lake cannot be used: it does not answer, or refuses."""


def nearest(word: str, known: Iterable[str]) -> str:
    """Return ``"did you mean 'tyre'? known: kind, rides, tyre"`` for a word nobody knows."""
    names = sorted(known)
    close = get_close_matches(word, names, n=1)
    hint = f"did you mean '{close[0]}'? " if close else ""
    return f"{hint}known: {', '.join(names)}" if names else "none is defined"
