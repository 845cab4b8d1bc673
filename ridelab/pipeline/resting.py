"""Stages of the package that rest: nothing that they read has changed since they ran last.

Such a stage looks at all vehicles together, so what changes for one it does anew for all.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import ridelab
from ridelab.pipeline.stages import STAGES
from ridelab.resources import data_dir

if TYPE_CHECKING:
    from ridelab.pipeline.context import Context
    from ridelab.pipeline.specification import Step


@dataclass
class Rest:
    """Whether a stage may rest, and what it is to remember when it has run."""

    context: Context
    step: Step

    @property
    def is_due(self) -> bool:
        """Whether nothing has changed, and what the stage wrote is still there.

        In a run that has read or measured anything nothing rests: what was taken away then, such as
        verdicts on a vehicle, is not told by what a vehicle is measured from.
        """
        outcome = self.context.outcome
        if outcome.read or outcome.measured or outcome.failed or not self._may:
            return False
        known = self.context.store.filled_from(self._name)
        return known is not None and known == self._state()

    def remember(self) -> None:
        """Note what the stage has run on."""
        if self._may:
            self.context.store.note_filled(self._name, self._state())

    def take(self) -> None:
        """Leave it at what the last run came to."""
        if self.step.name == "report":
            page = _page(self.context)
            self.context.outcome = replace(self.context.outcome, report=page)

    @property
    def _may(self) -> bool:
        return bool(STAGES[self.step.name].reads)

    @property
    def _name(self) -> str:
        return f"stage {self.step.name}"

    def _state(self) -> str:
        context, file = self.context, self.context.campaign.file
        stated = repr(context.campaign) if file is None else file.read_text("utf-8")
        told = [_code(), stated]
        if self.step.name == "report":
            # what comes first on the page is told by the stages that ran
            told += [_written(_page(context)), *context.outcome.seconds]
        return context.sources.of_stage(STAGES[self.step.name].reads, told)


def _page(context: Context) -> Path:
    return context.out_dir / "index.html"


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
