"""What altair does on behalf of whoever tries out charts, and a page of hundreds can do without."""

from __future__ import annotations

from contextlib import contextmanager
from functools import cache
from typing import TYPE_CHECKING, Any, Literal, TypeVar

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import altair as alt

    Chart = TypeVar("Chart", bound=alt.Chart | alt.LayerChart)


_AS_THEY_ARE = "rows as they are"


@contextmanager
def unchecked() -> Iterator[None]:
    """Make charts without holding each of their parts against the schema of the chart grammar.

    That takes three quarters of the time. The charts' tests do not go without.
    """
    from altair.utils import schemapi

    with schemapi.debug_mode(False):
        yield


def layered(layers: Sequence[alt.Chart | alt.LayerChart]) -> alt.LayerChart:
    """Return one chart of several layers, which must have no parameters, sizes or views.

    In case they do, altair's own copies all their parts twice, whenever it is itself copied.
    """
    chart: alt.LayerChart = _layers()(layer=list(layers))
    return chart


@cache
def _layers() -> type[alt.LayerChart]:
    """Return the class of such charts, made here since altair is loaded when it is needed."""
    import altair as alt

    class Layers(alt.LayerChart):
        """Layers as they are."""

        def __init__(self, *args: Any, **values: Any) -> None:  # noqa: ANN401 - altair's own
            super(alt.LayerChart, self).__init__(*args, **values)

    return Layers


def placed(channel: Literal["X", "Y", "Y2"], pixels: float | str) -> Any:  # noqa: ANN401 - a channel
    """Return a channel that is the same for all marks: pixels, or "width" or "height".

    As ``altair.value``, which is made into the same at ten times the cost.
    """
    import altair as alt

    return getattr(alt, f"{channel}Value")(pixels)


def with_properties(chart: Chart, **values: Any) -> Chart:  # noqa: ANN401 - as altair's own
    """Return the chart with some properties, which are held against the schema when it is written.

    Altair's own ``properties`` does so at once, whatever ``unchecked`` says.
    """
    copied: Any = chart.copy(deep=False)
    made: Chart = copied
    for name, value in values.items():
        made[name] = value
    return made


def specified(chart: alt.Chart | alt.LayerChart) -> dict[str, Any]:
    """Return the specification of a chart whose frames hold numbers, words and lists of them.

    They are taken as they are, however many rows: altair's own look for dates, and for other kinds
    of frames, costs more than the rows.
    """
    import altair as alt

    alt.data_transformers.register(_AS_THEY_ARE, _rows)
    with alt.data_transformers.enable(_AS_THEY_ARE):
        written: dict[str, Any] = chart.to_dict(validate=False)
    return written


def _rows(data: Any) -> dict[str, Any]:  # noqa: ANN401 - of the kinds that altair takes, a polars frame
    return {"values": data.to_dicts()}
