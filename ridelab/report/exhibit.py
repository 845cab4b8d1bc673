"""An exhibit: a chart with its words, its figures, and the place where it can be found."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridelab.report.digits import NO_BREAK
from ridelab.report.drawing import with_properties
from ridelab.report.markup import NOTHING, Markup, anchor, chart_name

if TYPE_CHECKING:
    import altair as alt
    import polars as pl

    Chart = alt.Chart | alt.LayerChart

#: A chart that fills its page has no width of its own where there is none, as in a saved picture.
WIDTH_PX = 680
#: Pixels of width that a character of a subtitle takes, on average and rounded up.
_CHARACTER_PX = 6.8


@dataclass(frozen=True)
class Exhibit:
    """One chart of the report, and all that goes with it.

    ``key`` names it among those of its vehicle, or of the campaign where ``vehicle`` is None.
    ``said`` is the sentence that says what to see. ``data`` is what it is drawn from, in SI units.
    ``table`` are the figures behind it; nothing where they stand in the section's own table.
    """

    key: str
    vehicle: str | None
    title: str
    said: str
    drawing: Chart
    data: pl.DataFrame
    table: Markup = NOTHING

    @property
    def parts(self) -> tuple[str, ...]:
        """What tells it from all others: its vehicle, where it has one, and its key."""
        key = self.key.replace("_", "-")
        return (key,) if self.vehicle is None else (self.vehicle, key)

    @property
    def id(self) -> str:
        """Its anchor in the page: ``chart-heron.density``."""
        return anchor("chart", *self.parts)

    @property
    def heading(self) -> str:
        """Its title with the name of its vehicle, as a chart can show it."""
        if self.vehicle is None:
            return self.title
        return f"{chart_name(self.vehicle)}: {self.title[0].lower()}{self.title[1:]}"

    @property
    def chart(self) -> Chart:
        """The chart as the page shows it, below a title of its own; its words can be read out."""
        said = [self.title, self.said]
        if self.vehicle is not None:
            said.insert(0, chart_name(self.vehicle))
        return with_properties(self.drawing, description=". ".join(said))

    def picture(self, width_px: int = WIDTH_PX) -> Chart:
        """Return the chart as it stands alone: titled with what to see in it, and with a width."""
        import altair as alt

        said = self.said.replace(" %", f"{NO_BREAK}%")
        title = alt.TitleParams(
            text=self.heading,
            subtitle=textwrap.wrap(said, round(width_px / _CHARACTER_PX)),
            anchor="start",
            fontWeight="normal",
            offset=14,
        )
        return with_properties(self.chart, title=title, width=width_px)
