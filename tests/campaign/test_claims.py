"""Claims are read with their tolerance, and only where rides could test them."""

from collections.abc import Callable
from math import inf, isnan

import pytest

from ridelab.campaign import BY_TWO_METERS, UNTESTABLE, Campaign, Claim

from .conftest import Refused

DRIVETRAINS = """
[drivetrains.nine]
stages = [{ speeds = 9, range = 5.4 }]
[drivetrains.smooth]
stages = [{ continuous = [0.5, 1.9] }]
"""


def claim(*lines: str, drivetrain: str = "nine") -> str:
    """Return a campaign with one claim about a drivetrain."""
    return "\n".join([DRIVETRAINS, "[[claims]]", f"drivetrain = '{drivetrain}'", *lines])


@pytest.fixture
def read_claim(read: Callable[[str], Campaign]) -> Callable[..., Claim]:
    """Return a function that reads the one claim of these lines."""
    return lambda *lines, **where: read(claim(*lines, **where)).claims[0]


@pytest.mark.parametrize(
    ("lines", "value", "tolerance", "printed"),
    [
        (["quantity='range'", "value='540 %'", "tolerance='2 %'"], 5.4, 0.02, "540 %"),
        (["quantity='range'", "value='540 %'", "tolerance=0.03"], 5.4, 0.03, "540 %"),
        (["quantity='range'", "value='540 %'"], 5.4, 0.005 / 5.4, "540 %"),
        (["quantity='range'", "value=5.40"], 5.4, 0.005 / 5.4, "5.40"),
        (["quantity='gears'", "value=9"], 9, 0.5 / 9, "9"),
        (["quantity='ratio'", "value=0.43", "gear='lowest'"], 0.43, 0.005 / 0.43, "0.43"),
        (["quantity='step'", "value='23.5 %'"], 0.235, 0.0005 / 0.235, "23.5 %"),
        (["quantity='development'", "value='8.5 m'", "gear=9"], 8.5, 0.05 / 8.5, "8.5 m"),
        (
            ["quantity='speed'", "value='28 mph'", "gear='highest'", "at_cadence_rpm=90"],
            28 * 0.44704,  # NIST SP 811
            0.5 / 28,
            "28 mph",
        ),
        (
            ["quantity='speed'", "value='20 km/h'", "gear='highest'", "at_cadence_rpm=90"],
            20 / 3.6,
            0.5 / 20,  # a zero at the end is a digit
            "20 km/h",
        ),
        (["quantity='development'", "value='8.50 m'", "gear=9"], 8.5, 0.005 / 8.5, "8.50 m"),
        (["quantity='evenness'", "at_most='1 %'"], 0.01, 0.5, "at most 1 %"),
        (
            ["quantity='cadence change'", "value='11 rpm'", "at_cadence_rpm=80"],
            11,
            0.5 / 11,
            "11 rpm",
        ),
        (["quantity='rollout'", "value='1563 mm'"], 1.563, 0.5 / 1563, "1563 mm"),
        (["quantity='overlap'", "value=0"], 0, 0, "0"),
        (["quantity='range'", "at_least='500 %'"], 5.0, 0.5 / 500, "at least 500 %"),
    ],
)
def test_value_and_tolerance(
    read_claim: Callable[..., Claim], lines: list[str], value: float, tolerance: float, printed: str
) -> None:
    """SI values; a tolerance as stated, else half a unit of the last digit printed."""
    read = read_claim(*lines)
    assert read.value == pytest.approx(value, rel=1e-12)
    assert read.tolerance == pytest.approx(tolerance, rel=1e-9)
    assert read.printed == printed


def test_whom_a_claim_speaks_of(read_claim: Callable[..., Claim]) -> None:
    """The gear, the step and the cadence are kept; a silent step is the mean."""
    speed = read_claim(
        "quantity='speed'", "value='25 km/h'", "gear=3", "at_cadence_rpm='80 rpm'", "source='sheet'"
    )
    assert (speed.gear, speed.at_cadence_rpm, speed.source) == (3, 80, "sheet")
    assert read_claim("quantity='step'", "value='13 %'").which == "mean"
    assert read_claim("quantity='step'", "value='13 %'", "which='largest'").which == "largest"
    one = read_claim("quantity='step'", "value='13 %'", "gear=9")
    assert (one.gear, one.which) == (9, None)
    smooth = read_claim("quantity='ratio'", "value=1.9", "gear='highest'", drivetrain="smooth")
    assert smooth.gear == "highest"


@pytest.mark.parametrize(
    ("lines", "low", "high"),
    [
        (["quantity='range'", "value='526 %'"], 5.255, 5.265),
        (["quantity='range'", "at_least='500 %'"], 4.995, inf),
        (
            ["quantity='speed'", "at_most='45 km/h'", "gear=9", "at_cadence_rpm=90"],
            -inf,
            45.5 / 3.6,
        ),
        (["quantity='gears'", "value=9"], 8.5, 9.5),
        (["quantity='overlap'", "value=0"], -0.5, 0.5),
        (["quantity='overlap'", "value=0", "tolerance='50 %'"], -0.5, 0.5),
        (["quantity='gears'", "value=100", "tolerance='2 %'"], 98, 102),
    ],
)
def test_limits(
    read_claim: Callable[..., Claim], lines: list[str], low: float, high: float
) -> None:
    """A claim allows what would be printed as it, and all on the side that it leaves open."""
    assert read_claim(*lines).limits == pytest.approx((low, high))


@pytest.mark.parametrize("quantity", sorted(UNTESTABLE.keys() - BY_TWO_METERS))
def test_what_rides_cannot_show_is_kept_as_printed(
    read_claim: Callable[..., Claim], quantity: str
) -> None:
    """Noise and the like need no number; a claim about them has no limits."""
    read = read_claim(f"quantity='{quantity}'", "at_least='97 % in all gears'")
    assert read.printed == "at least 97 % in all gears"
    assert all(isnan(number) for number in (read.value, read.tolerance))


@pytest.mark.parametrize(
    ("lines", "gear", "low", "high"),
    [
        (["value='96 %'"], None, 0.955, 0.965),
        (["value=0.96", "gear=3"], 3, 0.955, 0.965),
        (["at_least='95 %'", "gear='lowest'"], "lowest", 0.945, inf),
    ],
)
def test_efficiency_is_a_share_in_one_gear_or_in_all(
    read_claim: Callable[..., Claim],
    lines: list[str],
    gear: int | str | None,
    low: float,
    high: float,
) -> None:
    """Two power meters can test it, so it is a number with its rounding."""
    read = read_claim("quantity='efficiency'", *lines)
    assert read.gear == gear
    assert read.limits == pytest.approx((low, high))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("value='very high'", "'540 %' or the factor 5.4"),
        ("value=96", 'did you mean "96 %"?'),
        ("value='103 %'", "up to 100 %"),
    ],
)
def test_efficiency_that_cannot_be_is_refused(refused: Refused, line: str, said: str) -> None:
    """No drivetrain gives more than it gets."""
    assert said in str(refused(claim("quantity='efficiency'", line)))


def test_a_claim_may_speak_of_one_vehicle(
    read: Callable[[str], Campaign], refused: Refused
) -> None:
    """One that has the drivetrain; another is refused with those that have it."""
    vehicles = "".join(
        f"[vehicles.{name}]\nkind='trike'\nrides=['*.fit']\ndrivetrain='{drivetrain}'\n"
        for name, drivetrain in (("heron", "nine"), ("swan", "smooth"))
    )
    text = claim("quantity='rollout'", "value='1.56 m'", "vehicle='heron'") + "\n" + vehicles
    assert read(text).claims[0].vehicle == "heron"
    error = refused(text.replace("vehicle='heron'", "vehicle='swan'"))
    assert error.key == "claims#1.vehicle"
    assert "a vehicle that has it: heron" in str(error)
    assert "did you mean 'heron'" in str(refused(text.replace("vehicle='heron'", "vehicle='hero'")))


def test_ids_count_places_where_none_is_given(read: Callable[[str], Campaign]) -> None:
    """c1, c2, … in file order; a given id does not shift the others."""
    one = "\n[[claims]]\ndrivetrain='nine'\nquantity='gears'\nvalue=9"
    campaign = read(DRIVETRAINS + one + one + "\nid='count'" + one)
    assert [claim.id for claim in campaign.claims] == ["c1", "count", "c3"]


@pytest.mark.parametrize(
    ("lines", "key", "said"),
    [
        (["quantity='beauty'", "value=1"], "quantity", "range, gears, overlap, ratio, step, even"),
        (["value=1"], "quantity", "missing"),
        (["quantity='range'"], "value", "missing"),
        (["quantity='range'", "value=526"], "value", 'did you mean "526 %"? highest ratio over'),
        (["quantity='range'", "value=60"], "value", "below 50"),
        (["quantity='step'", "value=13.6"], "value", 'did you mean "13.6 %"?'),
        (["quantity='ratio'", "value=142", "gear=1"], "value", "between 0.01 and 100"),
        (["quantity='development'", "value=850", "gear=1"], "value", "below 100"),
        (
            ["quantity='speed'", "value='28'", "gear='highest'", "at_cadence_rpm=100"],
            "value",
            "found '28', without a unit; accepted: below 360 km/h: '25 km/h', '28 mph'",
        ),
        (["quantity='rollout'", "value=' 1563 '"], "value", "without a unit"),
        (["quantity='cadence change'", "value='11'", "at_cadence_rpm=80"], "value", "'11 rpm'"),
        (["quantity='gears'", "value='7 gears'"], "value", "accepted: a whole number of gears"),
        (["quantity='gears'", "value='14 %'"], "value", "accepted: a whole number of gears"),
        (["quantity='range'", "value='-540 %'"], "value", "found -540 %"),
        (["quantity='range'", "value='5,4'"], "value", "decimal mark"),
        (["quantity='range'", "value=nan"], "value", "found nan"),
        (["quantity='gears'", "value=9.5"], "value", "a whole number"),
        (["quantity='range'", "value=5.4", "tolerance=2"], "tolerance", "'2 %' or 0.02"),
        (["quantity='range'", "value=5.4", "tolerance='2 m'"], "tolerance", "'2 %'"),
        (["quantity='range'", "value=5.4", "gear=1"], "gear", "does not go with"),
        (["quantity='ratio'", "value=1", "which='mean'"], "which", "which only with step"),
        (["quantity='ratio'", "value=1"], "gear", "missing"),
        (["quantity='ratio'", "value=1", "gear=10"], "gear", "a number from 1 to 9"),
        (["quantity='ratio'", "value=1", "gear=0"], "gear", "a number from 1 to 9"),
        (
            ["quantity='ratio'", "value=1", "gear='lowset'"],
            "gear",
            "'lowest', 'highest' or a number from 1 to 9",
        ),
        (["quantity='ratio'", "value=1", "gear=1.5"], "gear", "found 1.5"),
        (["quantity='development'", "value='8 m'"], "gear", "missing"),
        (["quantity='development'", "value='8 km/h'", "gear=1"], "value", "'8.5 m'"),
        (["quantity='speed'", "value=7", "gear=1"], "at_cadence_rpm", "missing"),
        (["quantity='speed'", "value=7", "at_cadence_rpm=80"], "gear", "missing"),
        (
            ["quantity='speed'", "value=7", "gear=1", "at_cadence_rpm=0"],
            "at_cadence_rpm",
            "found 0",
        ),
        (["quantity='step'", "value='13 %'", "gear=1"], "gear", "a number from 2 to 9"),
        (["quantity='step'", "value='13 %'", "gear='lowest'"], "gear", "found 'lowest'"),
        (["quantity='step'", "value='13 %'", "gear=2", "which='mean'"], "which", "beside gear"),
        (
            ["quantity='step'", "value='13 %'", "which='median'"],
            "which",
            "mean, largest, smallest or",
        ),
        (["quantity='range'", "value=5", "at_least=5"], "at_least", "is there beside value"),
        (["quantity='overlap'", "value='2.5'"], "value", "a whole number of combinations"),
        (["quantity='overlap'", "value=-1"], "value", "such as 0 or 12"),
        (["quantity='evenness'", "value='0 %'"], "value", "which = 'every'"),
        (["quantity='cadence change'", "value='11 rpm'"], "at_cadence_rpm", "a shift down"),
        (["quantity='rollout'", "value=1563"], "value", "'1563 mm' or 1.563"),
        (["quantity='step'", "value='13 %'", "within='5 %'"], "within", "only with gears, overlap"),
        (["quantity='gears'", "value=9", "within='50 %'"], "within", "below 0.2"),
        (["quantity='noise'", "value=true"], "value", "the claim as it is printed"),
        (["quantity='gears'", "value=9", "sauce='x'"], "sauce", "did you mean 'source'?"),
    ],
)
def test_claims_that_say_nothing_are_refused(
    refused: Refused, lines: list[str], key: str, said: str
) -> None:
    """The error names the claim by its place, and the key in it."""
    error = refused(claim(*lines))
    assert error.key == f"claims#1.{key}"
    assert said in str(error)


@pytest.mark.parametrize(
    ("lines", "key"),
    [
        (["quantity='gears'", "value=9"], "quantity"),
        (["quantity='step'", "value='13 %'"], "quantity"),
        (["quantity='ratio'", "value=1", "gear=3"], "gear"),
    ],
)
def test_a_stepless_drivetrain_has_no_gears_to_claim(
    refused: Refused, lines: list[str], key: str
) -> None:
    """Only its ends and its range can be claimed."""
    error = refused(claim(*lines, drivetrain="smooth"))
    assert error.key == f"claims#1.{key}"
    assert "stepless" in str(error)


def test_claims_about_what_is_not_there(refused: Refused) -> None:
    """An unknown drivetrain is told with the nearest, a second id with the first."""
    assert "did you mean 'nine'?" in str(refused(claim("quantity='gears'", drivetrain="nin")))
    twice = "\n[[claims]]\nid='x'\ndrivetrain='nine'\nquantity='gears'\nvalue=9" * 2
    assert refused(DRIVETRAINS + twice).key == "claims#2.id"
    assert "each [[claims]]" in str(refused(DRIVETRAINS + "[claims]\nvalue=9"))
