"""Figures: no more digits than are known, in the units of the campaign."""

from __future__ import annotations

from math import nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.report.digits import Printer, count, duration, half_width, known, percent

METRIC, IMPERIAL = Printer("metric"), Printer("imperial")


def plain(shown: str) -> str:
    """Return what was printed with ordinary spaces."""
    return shown.replace("\u00a0", " ")


@given(value=st.floats(0.1, 20), half=st.floats(1e-4, 1))
def test_the_last_digit_printed_is_one_that_is_known(value: float, half: float) -> None:
    """Its place is that of the first digit of the half width (JCGM 100:2008, 7.2.6, less one)."""
    shown = METRIC.bare("ratio", value, half)
    last_place = 10.0 ** -len(shown.partition(".")[2])
    assert last_place <= half * (1 + 1e-9) < 10 * last_place * (1 + 1e-9) or last_place == 1
    assert abs(float(shown) - value) <= last_place / 2 * (1 + 1e-6)


def test_value_and_half_width_end_at_the_same_place() -> None:
    """As the issue prints it: gear 7, 1.139 ± 0.004."""
    assert plain(METRIC.plus_minus("ratio", 1.1391, 0.0042)) == "1.139 ± 0.004"


def test_without_an_interval_there_is_no_plus_minus() -> None:
    """A value whose uncertainty is not known gets the digits that are usual."""
    assert METRIC.plus_minus("ratio", 1.1391, None) == "1.139"


@pytest.mark.parametrize(
    ("low", "high", "half"),
    [(1.0, 1.2, 0.1), (None, 1.2, None), (nan, nan, None), (1.0, 1.0, None)],
)
def test_half_width(low: float | None, high: float | None, half: float | None) -> None:
    """An interval that is missing, not a number, or without width supports no digits."""
    assert half_width(low, high) == (None if half is None else pytest.approx(half))


def test_an_interval_is_printed_by_its_ends() -> None:
    """Range as a percentage, the unit once."""
    assert plain(METRIC.span("range", 5.37, 5.412)) == "537 to 541 %"


def test_units_are_those_of_the_campaign() -> None:
    """The international foot is 0.3048 m (NIST SP 811, appendix B.8)."""
    assert plain(METRIC.value("development", 3.048)) == "3.05 m"
    assert plain(IMPERIAL.value("development", 3.048)) == "10.0 ft"
    assert IMPERIAL.headed("Distance", "distance") == "Distance, mi"


def test_signs_are_printed_where_asked() -> None:
    """A departure has a direction; a minus is as wide as a plus."""
    assert METRIC.bare("step", 0.023, 0.003, sign=True) == "+2.3"
    assert METRIC.bare("step", -0.023, 0.003, sign=True) == "−2.3"
    assert METRIC.bare("step", 0.0001, 0.003, sign=True) == "0.0"


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [(0, "0 s"), (89, "89 s"), (90, "2 min"), (3600, "60 min"), (11520, "3 h 12 min"), (None, "–")],
)
def test_duration(seconds: float | None, shown: str) -> None:
    """Seconds for the short, hours for the long, a dash for the unknown."""
    assert plain(duration(seconds)) == shown


@pytest.mark.parametrize(
    ("share", "shown"),
    [(0.0, "0 %"), (0.001, "< 1 %"), (0.5, "50 %"), (0.999, "> 99 %"), (1.0, "100 %"), (None, "–")],
)
def test_percent(share: float | None, shown: str) -> None:
    """Nearly all is not all, and nearly nothing is not nothing."""
    assert plain(percent(share)) == shown


def test_known_takes_only_numbers() -> None:
    """A database tells "not a number" from null; a page need not."""
    assert (known(1.0), known(nan), known(None)) == (1.0, None, None)


def test_count() -> None:
    """One thing is not one things."""
    assert [plain(count(number, "ride")) for number in (0, 1, 2)] == [
        "0 rides",
        "1 ride",
        "2 rides",
    ]
