"""How the benchmarks count, on cases worked out by hand."""

from __future__ import annotations

import polars as pl
import pytest

from tests.benchmarks import scoring


def truth(gears: str) -> pl.DataFrame:
    """A second a character: a digit is the gear while coupled, a dot is coasting in the last."""
    selected, coupled, gear = [], [], 1
    for sign in gears:
        gear = gear if sign == "." else int(sign)
        selected.append(gear)
        coupled.append(sign != ".")
    return pl.DataFrame(
        {"t_s": [float(i) for i in range(len(gears))], "gear": selected, "coupled": coupled}
    )


@pytest.mark.parametrize(
    ("gears", "shifts"),
    [
        ("1112222", [(2.5, 1)]),
        ("1112333", [(3.0, 1)]),  # one sweep of two
        ("1112222333", [(2.5, 1), (6.5, 1)]),
        ("3332333", [(2.5, -1), (3.5, 1)]),
        ("111....333", [(4.5, 1)]),  # the middle of the gap
        ("111....111", []),
        ("1111", []),
    ],
)
def test_shifts_that_a_recording_can_show(gears: str, shifts: list[tuple[float, int]]) -> None:
    """Changes in one direction less than 3 s apart are one sweep."""
    assert list(scoring.seen_shifts(truth(gears)).iter_rows()) == shifts


def test_no_shift_across_a_silence_but_across_a_long_descent() -> None:
    """Twelve seconds without records hide what happened; twelve of coasting do not."""
    coasting = truth("111............222")
    silent = coasting.filter(pl.col("coupled"))
    assert scoring.seen_shifts(coasting).height == 1
    assert scoring.seen_shifts(silent).height == 0


def test_a_pair_is_counted_once_and_only_in_its_direction() -> None:
    """Two found beside one true shift are one hit; the wrong way is none."""
    true = pl.DataFrame({"t_s": [10.0, 50.0], "direction": [1, -1]})
    found = pl.DataFrame({"t_s": [9.0, 12.0, 50.0], "direction": [1, 1, 1]})
    assert scoring.matched(true, found) == 1
    assert scoring.f1(1, 2, 3) == pytest.approx(0.4)


def test_a_shift_further_off_is_no_hit() -> None:
    """Four seconds at most."""
    true = pl.DataFrame({"t_s": [10.0], "direction": [1]})
    assert scoring.matched(true, true.with_columns(t_s=pl.lit(14.0))) == 1
    assert scoring.matched(true, true.with_columns(t_s=pl.lit(14.1))) == 0


def test_the_common_scale_is_no_error_of_the_ladder() -> None:
    """All three per cent too long: a wrong wheel size; one gear more: an error of that gear."""
    true = pl.DataFrame({"gear": [1, 2, 3], "development_m": [2.0, 3.0, 4.0]})
    longer = true.with_columns(pl.col("development_m") * 1.03)
    error = scoring.ladder_error(longer, true)
    assert error.worst == pytest.approx(0.0, abs=1e-12)
    assert error.scale == pytest.approx(0.02956, abs=1e-5)
    off = true.with_columns(development_m=pl.Series([2.0, 3.0, 4.4]))
    assert scoring.ladder_error(off, true).worst == pytest.approx(0.09531, abs=1e-5)


def test_an_interval_holds_the_truth_or_does_not() -> None:
    """Gear 3 reads 2 % too long with an interval of 1 % either way; the others are right."""
    true = pl.DataFrame({"gear": [1, 2, 3], "development_m": [2.0, 3.0, 4.0]})
    measured = pl.DataFrame({"gear": [1, 2, 3], "development_m": [2.0, 3.0, 4.08]}).with_columns(
        ratio=pl.col("development_m") / 2,
        ratio_low=pl.col("development_m") / 2 / 1.01,
        ratio_high=pl.col("development_m") / 2 * 1.01,
    )
    assert scoring.within_interval(measured, true).to_list() == [True, True, False]


def test_samples_away_from_shifts() -> None:
    """More than two seconds from any."""
    away = scoring.away_from_shifts(pl.Series([0.0, 3.0, 7.0, 7.5]), pl.Series([5.0]))
    assert away.to_list() == [True, False, False, True]


def test_the_plain_rule_takes_the_nearest_gear_or_none() -> None:
    """4 m/s at 60 rpm is 4 m a turn; without cadence there is nothing to go by."""
    true = pl.DataFrame({"gear": [1, 2], "development_m": [2.0, 3.9]})
    recorded = pl.DataFrame({"speed_mps": [4.0, 4.0, 2.1], "cadence_rpm": [60.0, None, 60.0]})
    assert scoring.nearest_ratio(recorded, true).to_list() == [2, None, 1]


def test_gears_without_numbers_are_known_by_their_development() -> None:
    """A ladder that was found is laid on the true one."""
    measured = pl.DataFrame({"gear": [1, 2], "development_m": [3.05, 4.1]})
    true = pl.DataFrame({"gear": [1, 2, 3], "development_m": [2.0, 3.0, 4.0]})
    assert scoring.true_numbers(measured, true) == {1: 2, 2: 3}
