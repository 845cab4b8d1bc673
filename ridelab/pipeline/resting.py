"""Stages of the package that rest: nothing that they read has changed since they ran last.

Such a stage looks at all vehicles together, so what changes for one it does anew for all.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import ridelab
from ridelab.pipeline.stages import STAGES
from ridelab.resources import data_dir

if TYPE_CHECKING:
    from collections.abc import Collection

    from ridelab.campaign import Campaign
    from ridelab.pipeline.sources import Sources
    from ridelab.pipeline.specification import Step


@dataclass(frozen=True)
class Rest:
    """Whether a stage may rest, and what it is to remember when it has run.

    ``ran``: the stages before it; ``page``: where the report is.
    """

    sources: Sources
    campaign: Campaign
    page: Path
    step: Step
    ran: tuple[str, ...]

    @property
    def is_due(self) -> bool:
        """Whether nothing has changed, and what the stage wrote is still there.

        In a run that has read or measured anything nothing rests, whatever this says: what was
        taken away then, such as verdicts on a vehicle, is not told by what a vehicle is measured
        from.
        """
        if not self._may:
            return False
        known = self.sources.store.filled_from(self._name)
        return known is not None and known == self._state()

    def remember(self) -> None:
        """Note what the stage has run on."""
        if self._may:
            self.sources.store.note_filled(self._name, self._state())

    def depends_on(self, relations: Collection[str]) -> bool:
        """Whether the stage reads one of these relations."""
        return not STAGES[self.step.name].reads.isdisjoint(relations)

    @property
    def _may(self) -> bool:
        return bool(STAGES[self.step.name].reads)

    @property
    def _name(self) -> str:
        return f"stage {self.step.name}"

    def _state(self) -> str:
        file = self.campaign.file
        stated = repr(self.campaign) if file is None else file.read_text("utf-8")
        told = [_code(), stated]
        if self.step.name == "report":
            # what comes first on the page is told by the stages that ran
            told += [_written(self.page), *self.ran]
        return self.sources.of_stage(STAGES[self.step.name].reads, told)


def page_in(out_dir: Path) -> Path:
    """Return where a report is."""
    return out_dir / "index.html"


def _written(page: Path) -> str:
    """Return where a page is, and what tells whether it is still as it was written."""
    try:
        status = page.stat()
    except OSError:
        return f"{page} is not there"
    return f"{page} {status.st_size} {status.st_mtime_ns}"


@cache
def _code() -> str:
    """Return what changes with any file of ridelab's, so that new code never rests on old results.

    The version alone would do for those who install it, and not for those who work on it.
    """
    folders = (Path(ridelab.__file__).parent, Path(str(data_dir("sql"))))
    files = sorted(file for folder in folders for file in folder.rglob("*.*"))
    stamps = [
        (str(file), (status := file.stat()).st_size, status.st_mtime_ns)
        for file in files
        if file.suffix != ".pyc"
    ]
    return repr((ridelab.__version__, stamps))
