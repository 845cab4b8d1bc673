"""Older names of tyres mean the rims that the standard's tables say, or are refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.drivetrain.tyre_names import LISTED_BEAD_SEATS_MM, common_names
from ridelab.drivetrain.wheel import Tyre
from ridelab.errors import NotAccepted

# Pairs of name and designation in ISO 5775-1 and in the manual of the European Tyre and Rim
# Technical Organisation; from memory.
PAIRS = [
    ("14 × 1.75", "47-254"),
    ("16 × 1.75", "47-305"),
    ("16 × 1 1/4", "32-349"),
    ("18 × 1.75", "47-355"),
    ("20 × 1.75", "47-406"),
    ("20 × 1 1/8", "28-451"),
    ("20 × 1 3/8", "37-451"),
    ("24 × 1.75", "47-507"),
    ("24 × 1 3/8", "37-540"),
    ("26 × 1.75", "47-559"),
    ("26 × 2.10", "54-559"),
    ("26 × 1", "25-571"),
    ("26 × 1.00", "25-559"),
    ("26 × 1 3/8", "37-590"),
    ("26 × 1 1/4", "32-597"),
    ("27.5 × 2.25", "57-584"),
    ("27 × 1 1/4", "32-630"),
    ("28 × 1.75", "47-622"),
    ("28 × 1 5/8 × 1 3/8", "37-622"),
    ("28 × 1 5/8 × 1 1/8", "28-622"),
    ("28 × 1 1/2", "40-635"),
    ("29 × 2.25", "57-622"),
    ("650 × 25C", "25-571"),
    ("700 × 25C", "25-622"),
]


@pytest.mark.parametrize(("name", "designation"), PAIRS)
def test_names_and_designations_go_both_ways(name: str, designation: str) -> None:
    """The name is read as the designation, and stands among that tyre's names."""
    tyre = Tyre.parse(name)
    assert tyre.designation == designation
    assert name in tyre.names


@pytest.mark.parametrize(
    ("written", "designation"),
    [
        ('26" x 1.75"', "47-559"),
        ("26 inch x 1,75", "47-559"),
        ("26in*1.75", "47-559"),
        ("26 x 1.75 x 2", "47-559"),
        ("20X1 3/8", "37-451"),
        ("28×1⅝×1⅜", "37-622"),
        ("28 x 1-5/8 x 1-3/8", "37-622"),
        ("12 1/2 × 1.75 × 2 1/4", "47-203"),
        ("12.5 x 1.75", "47-203"),
        ("700x25c", "25-622"),
        ("700c x 25", "25-622"),
        ("26 x 1.9", "48-559"),
    ],
)
def test_signs_and_spaces_are_free(written: str, designation: str) -> None:
    """Inch signs, ×, fractions as one sign, a comma: what stands on tyres and in catalogues."""
    assert Tyre.parse(written).designation == designation


@pytest.mark.parametrize(
    ("name", "candidates"),
    [
        ('20"', ["47-406", "37-451"]),
        ("20 inch", ["47-406", "37-451"]),
        ("24 inch", ["47-507", "37-540"]),
        ("26", ["47-559", "37-590", "25-571"]),
        ("28 inch", ["47-622", "37-622", "37-642", "40-635"]),
        ("16 x 1 3/8", ["37-340", "37-349"]),
        ("18 × 1 3/8", ["37-390", "37-400"]),
        ("26 × 1.375", ["47-559", "37-590"]),
        ("26 × 2", ["47-559", "37-590"]),
        ("700 x 25", ["25-622", "25-635", "25-642"]),
    ],
)
def test_a_name_of_several_rims_lists_them(name: str, candidates: list[str]) -> None:
    """Nothing is guessed: the tyre's side has the designation, and these are the ones in question.

    1.375 in decimals is a fraction's width: nobody can tell which of the two was meant.
    """
    with pytest.raises(NotAccepted) as refusal:
        Tyre.parse(name)
    assert repr(name) in refusal.value.found
    for candidate in candidates:
        assert f"'{candidate}'" in refusal.value.accepted


def test_decimals_and_fractions_of_one_width_are_different_rims() -> None:
    """1.75 and 1 3/4, 1.5 and 1 1/2, 1.25 and 1 1/4 inches: 559 mm against 571, 584 and 597."""
    decimals = [Tyre.parse(f"26 × {width}").bead_seat_mm for width in ("1.75", "1.5", "1.25")]
    fractions = [Tyre.parse(f"26 × {width}").bead_seat_mm for width in ("1 3/4", "1 1/2", "1 1/4")]
    assert decimals == [559, 559, 559]
    assert fractions == [571, 584, 597]


@given(section=st.integers(18, 80), bead_seat=st.sampled_from(LISTED_BEAD_SEATS_MM))
def test_every_name_that_is_told_means_that_tyre(section: int, bead_seat: int) -> None:
    """Whatever name is printed beside a designation leads back to it."""
    for name in common_names(section, bead_seat):
        assert Tyre.parse(name) == Tyre(section, bead_seat)


@given(text=st.text('0123456789 x×/.,-"¼½ABCabcinch', max_size=20))
def test_any_text_is_a_tyre_or_is_refused(text: str) -> None:
    """Nothing but a tyre within bounds, or the one kind of refusal, comes of a text."""
    try:
        tyre = Tyre.parse(text)
    except NotAccepted as refusal:
        assert refusal.accepted  # noqa: PT017 - being refused is one of two right outcomes
    else:
        assert 10 <= tyre.section_mm <= 120
        assert 100 <= tyre.bead_seat_mm <= 700
