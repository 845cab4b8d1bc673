"""Finding and placing the ladder: right where the rides carry it, and silent where they do not."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from sklearn.mixture import GaussianMixture

from ridelab.drivetrain.ladder import Gear, Ladder
from ridelab.gears.discover import discover
from ridelab.gears.ladder import NoLadder, Rungs, Stated
from ridelab.gears.match import Matched, match
from ridelab.gears.mixture import robust_middle, settle
from ridelab.gears.observations import Observations, observe
from ridelab.gears.slide import fit_most_probable
from ridelab.gears.stretches import Stretches, steady_stretches
from tests.gears.riding import COAST, EVEN_14, ride, sweep

UNEVEN = (0.55, 0.68, 0.84, 1.04, 1.28, 1.58, 1.95)


def ladder(ratios: tuple[float, ...]) -> Ladder:
    """Return a published ladder of these ratios."""
    steps = (None, *(high / low - 1 for low, high in pairwise(ratios)))
    gears = zip(ratios, steps, strict=True)
    return Ladder(
        "paper", tuple(Gear(i, str(i), r, s, (r,)) for i, (r, s) in enumerate(gears, start=1))
    )


def observed(
    schedule: list[tuple[int, int]], ratios: tuple[float, ...], **kw: float
) -> Observations:
    """Return the observations of a ride."""
    seen = observe(ride(schedule, ratios, **kw))  # type: ignore[arg-type]
    assert isinstance(seen, Observations)
    return seen


def stretches(schedule: list[tuple[int, int]], ratios: tuple[float, ...], **kw: float) -> Stretches:
    """Return the steady stretches of a ride."""
    return steady_stretches(observed(schedule, ratios, **kw))


def scattered(count: int, seed: int = 3) -> Stretches:
    """Return stretches at developments spread evenly in the logarithm: a stepless hub's."""
    rng = np.random.default_rng(seed)
    return Stretches(
        rng.uniform(0.8, 2.0, count),
        np.full(count, 0.002),
        rng.uniform(4.0, 20.0, count),
        np.arange(count),
    )


def test_stretches_lie_on_gears() -> None:
    """A clean sweep yields stretches, all of them within 0.5 % of a gear ridden."""
    found = stretches(sweep([4, 6, 8]), EVEN_14)
    gears = np.log(2.1 * np.array(EVEN_14)[[3, 5, 7]])
    assert found.seconds.sum() > 0.8 * 240
    assert np.abs(found.ln_development[:, None] - gears).min(axis=1).max() < 0.005


def test_drifting_development_yields_no_stretch() -> None:
    """Development that rises by 3 % a second never holds still."""
    made = ride([(4, 120)], EVEN_14)
    seen = observe(made)
    assert isinstance(seen, Observations)
    seen.ln_development[:] = 1.0 + 0.03 * np.arange(120) + 0.0 * seen.ln_development
    assert steady_stretches(seen).seconds.sum() < 10


def test_mixture_centres_are_scikit_learns() -> None:
    """On clean clusters the centres equal those of scikit-learn's Gaussian mixture to 0.05 %."""
    rng = np.random.default_rng(11)
    centres = np.log([3.0, 3.4, 3.9, 4.5])
    y = np.concatenate([rng.normal(c, 0.004, 60) for c in centres])
    made = Stretches(y, np.full(len(y), 0.001), np.full(len(y), 8.0), np.arange(len(y)))
    ours = settle(made, centres + 0.01, spread=0.01).centres
    peer = GaussianMixture(4, means_init=centres[:, None], random_state=0).fit(y[:, None])
    np.testing.assert_allclose(np.sort(ours), np.sort(peer.means_[:, 0]), atol=0.0005)


def test_robust_middle_ignores_one_wrong_gear() -> None:
    """One gear of fourteen that is 5 % off moves the common scale by less than 0.05 %."""
    departures = np.zeros(14)
    departures[6] = 0.05
    assert abs(robust_middle(departures, np.full(14, 1e6))) < 0.0005


@pytest.mark.parametrize("gears", [range(1, 8), range(2, 6), (1, 3, 4, 7)])
def test_gears_are_found_without_a_published_ladder(gears: tuple[int, ...]) -> None:
    """As many gears as were ridden, each within 0.3 %."""
    found = discover(stretches(sweep(gears), UNEVEN), 80.0 * len(gears))
    assert isinstance(found, Rungs)
    expected = np.log(2.1 * np.array(UNEVEN)[np.array(gears) - 1])
    np.testing.assert_allclose(found.ln_developments, expected, atol=0.003)


@pytest.mark.parametrize("seed", range(5))
def test_a_stepless_hub_is_given_no_gears(seed: int) -> None:
    """Stretches spread evenly are called stepless, not a ladder."""
    found = discover(scattered(150, seed), 1500.0)
    assert isinstance(found, NoLadder)
    assert found.continuous


@pytest.mark.parametrize("seed", range(5))
def test_ratios_held_for_minutes_are_no_gears(seed: int) -> None:
    """Forty holds at random ratios, each cut into five pieces: still stepless."""
    rng = np.random.default_rng(seed)
    middle = np.repeat(rng.uniform(0.8, 2.0, 40), 5) + rng.normal(0.0, 0.002, 200)
    pieces = Stretches(middle, np.full(200, 0.002), np.full(200, 20.0), np.repeat(np.arange(40), 5))
    found = discover(pieces, 4000.0)
    assert isinstance(found, NoLadder)
    assert found.continuous


def test_too_few_stretches_are_called_too_few() -> None:
    """A minute of riding is no ground for a ladder, and no proof of a stepless hub either."""
    found = discover(stretches([(4, 30), (6, 30)], EVEN_14), 60.0)
    assert isinstance(found, NoLadder)
    assert not found.continuous


def matched(made: Stretches, published: Ladder, stated: Stated) -> Rungs | NoLadder:
    """Return the ladder in use in the most probable place."""
    found = match([made], published, stated)
    return found if isinstance(found, NoLadder) else found.ladders[0]


@pytest.mark.parametrize("true_rollout", [2.10, 2.06, 1.98])
def test_published_ladder_is_placed_at_the_true_rollout(true_rollout: float) -> None:
    """An uneven ladder finds its scale although the stated rollout is up to 6 % off."""
    stated = Stated(None, 2.10)
    found = matched(
        stretches(sweep(range(1, 8)), UNEVEN, rollout_m=true_rollout), ladder(UNEVEN), stated
    )
    assert isinstance(found, Rungs)
    expected = np.log(true_rollout * np.array(UNEVEN))
    np.testing.assert_allclose(found.ln_developments, expected, atol=0.003)


def test_a_gear_that_departs_from_its_published_ratio_is_followed() -> None:
    """Gear 4 built 5 % off is found where it is, and its neighbours stay."""
    built = (*UNEVEN[:3], UNEVEN[3] * 1.05, *UNEVEN[4:])
    found = matched(stretches(sweep(range(1, 8)), built), ladder(UNEVEN), Stated(None, 2.10))
    assert isinstance(found, Rungs)
    np.testing.assert_allclose(found.ln_developments, np.log(2.1 * np.array(built)), atol=0.003)


CROWDED = tuple(sorted({r / s for r in (24, 38) for s in (36, 30, 26, 22, 19, 17, 15, 13, 11)}))


def test_another_sprocket_than_published_is_found_where_it_is() -> None:
    """A lowest gear of 34 instead of 36 teeth, 5.9 % off, is that gear and no stranger."""
    built = (24 / 34, *CROWDED[1:])
    ridden = [1, 2, 5, 8, 11, 14, 16, 18]
    found = matched(stretches(sweep(ridden), built), ladder(CROWDED), Stated(None, 2.10))
    assert isinstance(found, Rungs)
    assert found.doubts == ()
    assert found.ln_developments[0] == pytest.approx(np.log(2.1 * 24 / 34), abs=0.004)


def test_a_ratio_outside_the_published_ladder_is_a_gear_of_its_own() -> None:
    """Steady riding midway between two gears that are ridden as well fits neither."""
    between = float(np.sqrt(UNEVEN[3] * UNEVEN[4]))
    built = (*UNEVEN[:4], between, *UNEVEN[4:])
    found = matched(stretches(sweep(range(1, 9)), built), ladder(UNEVEN), Stated(None, 2.10))
    assert isinstance(found, Rungs)
    assert found.numbers.tolist() == [1, 2, 3, 4, 8, 5, 6, 7]
    assert found.ln_ratios is not None
    assert np.isnan(found.ln_ratios).tolist() == [False] * 4 + [True] + [False] * 3


def test_steps_that_are_narrower_throughout_keep_their_gears() -> None:
    """A hub of 480 % where 526 % is published: all fourteen gears found, each where it is."""
    built = tuple(4.80 ** (i / 13.0 - 0.5) for i in range(14))
    found = matched(stretches(sweep(range(1, 15)), built), ladder(EVEN_14), Stated(None, 2.13))
    assert isinstance(found, Rungs)
    np.testing.assert_allclose(found.ln_developments, np.log(2.1 * np.array(built)), atol=0.004)
    assert "narrower throughout" in found.doubts[0]


def test_a_published_ladder_is_not_forced_on_stepless_riding() -> None:
    """Developments spread evenly get no gears although gears are published."""
    found = matched(scattered(150), ladder(UNEVEN), Stated(None, 2.1))
    assert isinstance(found, NoLadder)
    assert "is this the drivetrain" in found.reason


def test_one_sweep_through_a_published_ladder_is_enough_to_place_it() -> None:
    """Every gear once, for 80 s: no gear is met twice, and yet each lies where it is published."""
    found = matched(stretches(sweep(range(1, 8), 80, 1), UNEVEN), ladder(UNEVEN), Stated(None, 2.1))
    assert isinstance(found, Rungs)
    assert found.unexplained_share == pytest.approx(0.0, abs=0.05)


def test_riding_that_fits_no_gear_is_put_in_numbers() -> None:
    """A third of the steady time between two gears is an unexplained share of a third."""
    between = float(np.sqrt(UNEVEN[3] * UNEVEN[4]))
    made = stretches(sweep([1, 2, 3]), (UNEVEN[3], between, UNEVEN[4]))
    found = matched(made, ladder(UNEVEN), Stated(None, 2.1))
    assert isinstance(found, Rungs)
    assert found.unexplained_share == pytest.approx(1 / 3, abs=0.05)


def test_a_whole_gear_slide_is_told() -> None:
    """Five gears of an even ladder fit it in several places if nobody states the rollout."""
    seen = [observed(sweep(range(4, 9)), EVEN_14)]
    places = match([steady_stretches(one) for one in seen], ladder(EVEN_14), Stated())
    assert isinstance(places, Matched)
    assert len(places.ladders) > 1
    found = fit_most_probable(seen, places).rungs
    assert found.placement_probability is not None
    assert found.placement_probability < 0.5
    assert "one gear or more higher or lower" in found.doubts[0]
    rollouts = [np.exp(one.ln_developments[0]) / EVEN_14[0] for one in places.ladders]
    assert any(rollout == pytest.approx(2.1, rel=0.01) for rollout in rollouts)


def test_riding_in_the_lowest_gear_tells_a_slide_that_stretches_leave_open() -> None:
    """Starts in gear 1 hold nothing steady, and yet no gear lies below: the slide is settled."""
    starts = [(1, 3), (COAST, 4)] * 30
    schedule = [(gear, 40) for gear in range(6, 11)]
    seen = [observed([*starts, *schedule, *starts], EVEN_14[:10])]
    places = match([steady_stretches(one) for one in seen], ladder(EVEN_14[:10]), Stated())
    assert isinstance(places, Matched)
    assert places.ladders[0].placement_probability < 0.9  # type: ignore[operator]
    found = fit_most_probable(seen, places).rungs
    assert found.placement_probability is not None
    assert found.placement_probability > 0.99
    assert np.exp(found.ln_developments[0]) / EVEN_14[0] == pytest.approx(2.1, rel=0.01)


def test_a_measured_rollout_settles_the_slide() -> None:
    """The same riding with a measured rollout leaves one placement."""
    stated = Stated(None, 2.1, rollout_is_measured=True)
    found = matched(stretches(sweep(range(4, 9)), EVEN_14), ladder(EVEN_14), stated)
    assert isinstance(found, Rungs)
    assert found.doubts == ()
    np.testing.assert_allclose(
        found.ln_developments[3:8], np.log(2.1 * np.array(EVEN_14[3:8])), atol=0.003
    )


def test_coasting_leaves_no_trace_in_the_ladder() -> None:
    """Coasting between the gears adds no gear."""
    schedule = [(g, 40) for g in (3, COAST, 5, COAST, 3, COAST, 5, COAST)]
    found = discover(stretches(schedule, UNEVEN), 160.0)
    assert isinstance(found, Rungs)
    assert found.count == 2
