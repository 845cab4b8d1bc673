"""How the inference benchmark counts, on cases worked out by hand."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from ridelab.simulate import simulate_ride
from tests.benchmarks.inference_campaigns import Tally
from tests.benchmarks.inference_counts import (
    Counts,
    count_case,
    count_ride,
    ladder_errors,
    renumbered,
    total,
)
from tests.benchmarks.inference_figures import (
    OURS,
    at_least,
    at_most,
    campaign_figures,
    case_figures,
    case_lines,
    lines,
    right_away,
)
from tests.benchmarks.inference_found import Found, Named
from tests.benchmarks.inference_truth import (
    TrueGear,
    TrueRide,
    _further,
    _long_spells,
    _share_before,
    nearest_gears,
    seen_shifts,
    sweeps_made,
    true_gears,
    true_ride,
)
from tests.simulate.rides import hub_ride, windy_ride

GEARS = {1: TrueGear(100.0, np.log(1.0)), 2: TrueGear(90.0, np.log(1.5)), 3: TrueGear(20.0, 0.7)}


def signs(text: str) -> tuple[np.ndarray, np.ndarray]:
    """Gears and coupled, a second a sign: a digit is the gear while coupled, a dot coasting."""
    gear, coupled, last = [], [], 1
    for sign in text:
        last = last if sign == "." else int(sign)
        gear.append(last)
        coupled.append(sign != ".")
    return np.array(gear), np.array(coupled)


def truth(text: str) -> TrueRide:
    """A true ride in which every second is driven or loose as a whole."""
    gear, coupled = signs(text)
    t_s = np.arange(len(text), dtype=float)
    changes = t_s[1:][np.diff(gear) != 0]
    return TrueRide(
        t_s=t_s,
        gear=gear,
        ln_ratio=np.log(gear),
        coupled=coupled,
        driven=coupled,
        loose=~coupled,
        away=_further(t_s, changes, 2.0),
        apart=_long_spells(~coupled, t_s, 2.0),
        moving=np.ones(len(t_s), dtype=bool),
        turning=coupled,
        made=seen_shifts(t_s, gear, np.ones(len(t_s), dtype=bool)),
        shown=seen_shifts(t_s, gear, coupled),
    )


def test_a_perfect_result_is_right_everywhere() -> None:
    """All samples right, every shift found, nothing claimed while decoupled."""
    text = "1111111122222222...2223333333"
    counts = count_ride(Named(*signs(text)), truth(text))
    assert counts.right == counts.records == len(text)
    assert counts.away == counts.away_right < counts.coupled == len(text) - 3
    assert (counts.true_shifts, counts.found_shifts, counts.hits) == (2, 2, 2)
    assert (counts.made_shifts, counts.made_hits) == (2, 2)
    assert (counts.loose, counts.loose_long, counts.loose_named) == (3, 3, 0)


def test_a_gear_named_while_coasting_is_counted_against_it() -> None:
    """Of three loose seconds two are given a gear as coupled; no gear is no claim."""
    gear, coupled = signs("1111.....1111"[:4] + "11.1111")
    found = Named(np.where(np.arange(11) == 6, 0, gear), np.ones(11, dtype=bool))
    counts = count_ride(found, truth("1111...1111"))
    assert (counts.loose, counts.loose_named) == (3, 2)
    assert coupled.sum() == 10


def test_a_gear_that_was_seen_on_half_a_second_shows_no_shift() -> None:
    """The sweep was made; a record shows it only where the gear drove a whole second."""
    ride = truth("1111112222")
    never = TrueRide(**{**ride.__dict__, "shown": ride.shown.clear()})
    counts = count_ride(Named(ride.gear, ride.coupled), never)
    assert (counts.true_shifts, counts.made_shifts) == (0, 1)


def test_counts_add_up_field_by_field() -> None:
    """Numbers are added, errors strung together."""
    added = total([Counts(records=3, errors=[0.1]), Counts(records=4, away=2, errors=[0.2])])
    assert added == Counts(records=7, away=2, errors=[0.1, 0.2])


def test_the_ladder_is_judged_by_gears_driven_for_a_minute_and_without_its_scale() -> None:
    """Gear 3 drove for 20 s and does not count; 3 % on both others are a wrong wheel."""
    found = {1: np.log(1.0 * 1.03), 2: np.log(1.5 * 1.03), 3: 5.0}
    errors, lacking = ladder_errors(found, GEARS)
    assert errors == pytest.approx({1: 0.0, 2: 0.0}, abs=1e-12)
    assert lacking == 0
    assert ladder_errors({1: 0.0}, GEARS) == ({1: 0.0}, 1)


def test_found_gears_get_the_numbers_of_the_nearest_true_ones() -> None:
    """Two found near gear 2: both are it, and the one with more samples stands for its ratio."""
    ladder = {1: 0.0, 2: np.log(1.48), 3: np.log(1.52)}
    found = Found((Named(np.array([1, 2, 3, 3, 0]), np.ones(5, dtype=bool)),), ladder)
    assert nearest_gears(ladder, GEARS, 0.0) == {1: 1, 2: 2, 3: 2}
    again = renumbered(found, GEARS, 0.0)
    assert again.rides[0].gear.tolist() == [1, 2, 2, 2, 0]
    assert again.ln_developments == {1: 0.0, 2: pytest.approx(np.log(1.52))}


def test_gears_measured_that_never_drove_are_phantoms() -> None:
    """Gear 7 has a ratio and no second of riding."""
    named = Named(np.array([1, 1]), np.ones(2, dtype=bool))
    found = Found((named,), {1: 0.0, 2: np.log(1.5), 7: 1.0})
    counts = count_case(found, [truth("11")], GEARS, True, 0.0)
    assert (counts.phantoms, counts.unmeasured) == (1, 0)


def test_a_record_tells_of_the_second_before_it() -> None:
    """Five steps of a fifth: shares over the last five, or over what there is at the start."""
    inside = np.array([1, 1, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1], dtype=bool)
    assert _share_before(inside, np.array([1, 4, 6, 11]), 5).tolist() == [1.0, 0.4, 0.0, 1.0]


def test_only_long_spells_are_apart() -> None:
    """Two seconds and more."""
    inside = np.array([0, 1, 0, 1, 1, 0, 1], dtype=bool)
    found = _long_spells(inside, np.arange(7.0), 2.0)
    assert found.tolist() == [False, False, False, True, True, False, False]


def test_times_far_from_any_moment() -> None:
    """On either side, and everywhere without one."""
    assert _further(np.arange(6.0), np.array([3.0]), 1.5).tolist() == [1, 1, 0, 0, 0, 1]
    assert _further(np.arange(3.0), np.array([]), 1.5).all()


def test_truth_of_a_ride_is_consistent_with_its_trace() -> None:
    """Driven seconds are coupled at their end, loose ones are not; gears' seconds add up."""
    made = simulate_ride(windy_ride(duration_s=600), 3)
    true = true_ride(made)
    assert true.coupled[true.driven].all()
    assert not true.coupled[true.loose].any()
    assert 0.5 < true.driven.mean() < true.coupled.mean()
    seconds = sum(gear.seconds for gear in true_gears([made]).values())
    assert seconds == pytest.approx(0.2 * made.trace.coupled.sum())


def test_sweeps_join_shifts_in_one_direction() -> None:
    """No two sweeps in one direction begin within the three seconds that make them one."""
    made = simulate_ride(hub_ride(), 3)
    sweeps = sweeps_made(made)
    assert 5 < len(sweeps) <= len(made.shifts)
    ways = sweeps["direction"].to_numpy()
    assert set(ways.tolist()) == {-1, 1}
    close = (sweeps["t_s"].diff() < 1.5) & (sweeps["direction"].diff() == 0)
    assert not close.fill_null(value=False).any()


def test_figures_say_whether_their_goal_is_met() -> None:
    """A limit itself is met; nothing measured is not."""
    assert at_least("a", 0.95, 0.95).met
    assert not at_least("a", 0.94, 0.95).met
    assert at_most("a", 0.1, 0.1).met
    assert not at_most("a", None, 0.1).met
    assert at_most("a", 0.1, 0.1).as_json().keys() >= {"figure", "value", "goal", "met"}


def test_cases_become_figures_with_the_peers_beside() -> None:
    """Shares of each pool for each method, and the decoupled samples of both pools together."""
    ours = Counts(away=100, away_right=99, loose=50, loose_named=1, errors=[0.001, -0.004])
    peer = Counts(away=100, away_right=90, loose=50, loose_named=25)
    pool = {OURS: ours, "peer": peer}
    found = {figure.figure: figure for figure in case_figures(pool, pool)}
    right = found["satellite: samples right, coupled, 2 s from shifts"]
    assert (right.value, right.met, right.beside) == (0.99, True, {"peer": 0.9})
    assert not found["wheel sensor: samples right, coupled, 2 s from shifts"].met
    assert found["wheel sensor: ladder error, worst"].value == 0.004
    assert found["decoupled given a gear: whole seconds"].value == 0.02
    assert right_away(Counts()) is None


def test_campaigns_become_figures() -> None:
    """Coverage has a goal on both sides."""
    tally = Tally(ratios=[True] * 95 + [False] * 5, ranges=[True] * 100, steps=[False],
                  errors=[("satellite", 0.02, 0.01)], stated_errors=[("satellite", 0.02)],
                  claims=10, decided=8, counted=[True, False], sure=[0.99, 0.5], stepless=3,
                  as_gears=1,
                  teeth=[True, False], chains=[True])  # fmt: skip
    found = {figure.figure: figure for figure in campaign_figures(tally)}
    assert found["95 % intervals that hold the truth: ratios"].met
    assert not found["95 % intervals that hold the truth: ranges"].met
    assert found["satellite: error of a ratio over the oracle's, median"].value == pytest.approx(2)
    assert not found["stepless given gears"].met
    assert found["claims decided"].value == 0.8
    assert found["the same, as stated"].value == 0.745
    assert found["counted right, of 1 stated as 98% to 100%"].value == 1.0
    assert found["counted right, of 0 stated as 70% to 90%"].value is None
    assert found["sprockets suggested right"].value == 0.5
    assert found["others suggested teeth"].met
    assert (tally + tally).claims == 20


def test_tables_have_a_row_for_everything() -> None:
    """Every figure, every method."""
    pool = {OURS: Counts(away=1, away_right=1), "peer": Counts()}
    figures = case_figures(pool, {})
    table = lines(figures, ["peer"])
    assert len(table) == len(figures) + 1
    assert len(case_lines("a case", pool)) == 5
    assert all(len(line) < 200 for line in table)


def test_frames_of_sweeps_have_their_columns() -> None:
    """Time and direction, whoever made them."""
    true = true_ride(simulate_ride(hub_ride(duration_s=300), 3))
    for frame in (true.made, true.shown):
        assert frame.columns == ["t_s", "direction"]
        assert frame["t_s"].dtype == pl.Float64
