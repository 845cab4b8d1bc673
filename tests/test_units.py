"""Quantities are read exactly and printed with no more digits than are known."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import constants

from ridelab.errors import NotAccepted
from ridelab.units import (
    Dimension,
    Measure,
    UnitSystem,
    decimals_supported,
    display_unit,
    format_quantity,
    half_last_digit,
    parse_quantity,
)


@pytest.mark.parametrize(
    ("text", "dimension", "value_si"),
    [
        # NIST SP 811 (2008), appendix B.8: exact factors
        ("1 mi", "length", 1609.344),
        ("1 in", "length", 0.0254),
        ("1 ft", "length", 0.3048),
        ("1 lb", "mass", 0.45359237),
        # NIST SP 811, appendix B.8: 1 mi/h = 0.44704 m/s; 1 km/h = 0.2777778 m/s
        ("1 mph", "speed", 0.44704),
        ("36 km/h", "speed", 10.0),
        # SciPy's CODATA table, a general-purpose reference, holds the same units
        ("5 mi", "length", 5 * constants.mile),
        ("28 mph", "speed", 28 * constants.mph),
        ("1 lbf·ft", "torque", constants.pound_force * constants.foot),
        ("12 lb", "mass", 12 * constants.pound),
        ("540 %", "ratio", 5.4),
        ("5.4", "ratio", 5.4),
        ("2 %", "percent", 0.02),
        ("0.02", "percent", 0.02),
        ("7", "speed", 7.0),
        ("8.5 m", "length", 8.5),
        ("850 cm", "length", 8.5),
        ("412 km", "length", 412_000.0),
        ("80 rpm", "cadence", 80.0),
        ("250 N·m", "torque", 250.0),
        ("250Nm", "torque", 250.0),
        (" 85  kg ", "mass", 85.0),
        ("-3 %", "percent", -0.03),
    ],
)
def test_quantity_is_read_in_si(text: str, dimension: Dimension, value_si: float) -> None:
    """A printed quantity becomes its SI value, by published factors."""
    assert parse_quantity(text, dimension).value_si == pytest.approx(value_si, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "dimension", "low", "high"),
    [
        ("28 mph", "speed", 27.5 * 0.44704, 28.5 * 0.44704),
        ("540 %", "ratio", 5.395, 5.405),
        ("8.50 m", "length", 8.495, 8.505),
        ("14", "ratio", 13.5, 14.5),
        ("1500 mm", "length", 1.4995, 1.5005),
    ],
)
def test_half_digit_is_half_a_unit_of_the_last_digit(
    text: str, dimension: Dimension, low: float, high: float
) -> None:
    """What was printed stands for every value that rounds to it."""
    quantity = parse_quantity(text, dimension)
    assert quantity.value_si - quantity.half_digit == pytest.approx(low, rel=1e-12)
    assert quantity.value_si + quantity.half_digit == pytest.approx(high, rel=1e-12)
    assert quantity.printed == text


@pytest.mark.parametrize(
    ("text", "dimension", "said"),
    [
        ("8,5 m", "length", "a point as the decimal mark"),
        ("1,000 km", "length", "a point as the decimal mark"),
        ("25 kmh", "speed", "did you mean 'km/h'?"),
        ("25 m", "speed", "'25 km/h', '15.5 mph' or '7 m/s'"),
        ("fast", "speed", "'25 km/h', '15.5 mph' or '7 m/s'"),
        ("", "ratio", "'540 %' or the factor 5.4"),
        ("1.2.3", "ratio", "'540 %' or the factor 5.4"),
        ("nan", "ratio", "'540 %' or the factor 5.4"),
        ("9" * 10_000, "ratio", "99…'"),
        ("٤ m", "length", "'8.5 m'"),
    ],
)
def test_what_is_no_quantity_is_refused(text: str, dimension: Dimension, said: str) -> None:
    """A refusal quotes what was found, shortened, and tells what would be taken."""
    with pytest.raises(NotAccepted) as refusal:
        parse_quantity(text, dimension)
    assert said in str(refusal.value)
    assert len(str(refusal.value)) < 250


def test_control_characters_are_quoted_visibly() -> None:
    """A terminal escape in a campaign does not reach the terminal."""
    with pytest.raises(NotAccepted) as refusal:
        parse_quantity("\x1b[2J", "speed")
    assert "\x1b" not in str(refusal.value)


@given(
    digits=st.integers(0, 10**9),
    decimals=st.integers(0, 6),
    unit=st.sampled_from(["km/h", "mph", "m/s"]),
)
def test_any_printed_decimal_is_read_back(digits: int, decimals: int, unit: str) -> None:
    """Reading a decimal and its unit recovers digits and decimals."""
    number = f"{digits / 10**decimals:.{decimals}f}"
    quantity = parse_quantity(f"{number} {unit}", "speed")
    one = parse_quantity(f"1 {unit}", "speed")
    assert quantity.value_si == pytest.approx(float(number) * one.value_si, rel=1e-12)
    assert quantity.half_digit == pytest.approx(0.5 * 10**-decimals * one.value_si, rel=1e-12)


@pytest.mark.parametrize(
    ("number", "half"), [("5.40", 0.005), ("5.4", 0.05), ("14", 0.5), ("1e3", 500)]
)
def test_half_last_digit_of_numbers(number: str, half: float) -> None:
    """Trailing zeros count as digits given, an exponent moves the last digit."""
    assert float(half_last_digit(number)) == pytest.approx(half)


@pytest.mark.parametrize(
    ("printed", "expected"),
    [
        (format_quantity(7.0, "speed"), "25.2 km/h"),
        (format_quantity(0.44704 * 28, "speed", "imperial"), "28.0 mph"),
        (format_quantity(7.0, "speed", half_width_si=0.5), "25 km/h"),
        (format_quantity(8.5, "development"), "8.50 m"),
        (format_quantity(3.048, "development", "imperial"), "10.0 ft"),
        (format_quantity(2.0957, "rollout"), "2.096 m"),
        (format_quantity(0.0254 * 82, "rollout", "imperial"), "82.0 in"),
        (format_quantity(412_000, "distance"), "412.0 km"),
        (format_quantity(1609.344, "distance", "imperial"), "1.0 mi"),
        (format_quantity(5.26, "range"), "526 %"),
        (format_quantity(5.2613, "range", half_width_si=0.0004), "526.13 %"),
        (format_quantity(0.136, "step"), "13.6 %"),
        (format_quantity(-0.00001, "step"), "0.0 %"),
        (format_quantity(1.13872, "ratio", half_width_si=0.004), "1.139"),
        (format_quantity(1.13872, "ratio", half_width_si=0.03), "1.14"),
        (format_quantity(80, "cadence"), "80 rpm"),
        (format_quantity(83, "cadence", half_width_si=25), "80 rpm"),
        (format_quantity(250, "torque"), "250 N·m"),
        (format_quantity(10, "mass", "imperial"), "22.0 lb"),
    ],
)
def test_printing_for_people(printed: str, expected: str) -> None:
    """Each measure is printed in the unit of the system, to the digits that are known."""
    assert printed == expected


@given(value=st.floats(0.01, 1000), half_width=st.floats(1e-6, 100))
def test_last_digit_is_never_finer_than_the_interval(value: float, half_width: float) -> None:
    """One unit of the last digit printed is at most the half width, and more than a tenth of it."""
    unit = 10.0 ** -decimals_supported(half_width)
    assert half_width / 10 < unit <= half_width * (1 + 1e-9)
    printed = float(format_quantity(value, "ratio", half_width_si=half_width))
    assert abs(printed - value) <= unit / 2 * (1 + 1e-9)


@pytest.mark.parametrize("half_width", [0.0, -1.0, math.nan, math.inf])
def test_no_digits_without_an_interval(half_width: float) -> None:
    """An interval without a width supports no number of digits."""
    with pytest.raises(ValueError, match="positive"):
        decimals_supported(half_width)


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize(
    ("measure", "dimension"),
    [
        ("speed", "speed"),
        ("development", "length"),
        ("rollout", "length"),
        ("distance", "length"),
        ("range", "ratio"),
        ("step", "percent"),
        ("ratio", "ratio"),
        ("cadence", "cadence"),
        ("torque", "torque"),
        ("mass", "mass"),
    ],
)
@given(value_si=st.floats(0.001, 10_000))
def test_what_is_printed_can_be_read(
    value_si: float, measure: Measure, dimension: Dimension, units: UnitSystem
) -> None:
    """Printing and reading return the value, to within the digits printed."""
    assume(value_si * display_unit(measure, units).per_si < 1e12)
    quantity = parse_quantity(format_quantity(value_si, measure, units), dimension)
    assert abs(quantity.value_si - value_si) <= quantity.half_digit * (1 + 1e-6)
