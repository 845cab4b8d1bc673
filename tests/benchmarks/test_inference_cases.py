"""The cases, campaigns, peers and oracle of the inference benchmark."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from ridelab.campaign import Claim
from ridelab.telemetry import read_ride
from tests.benchmarks import inference
from tests.benchmarks.inference_campaigns import (
    Tally,
    _built_ratios,
    _claims,
    _count_intervals,
    drawn,
)
from tests.benchmarks.inference_cases import (
    EIGHTEEN,
    FOURTEEN,
    SIX_BY_FOURTEEN,
    Case,
    Day,
    all_cases,
    as_read,
    is_satellite,
)
from tests.benchmarks.inference_counts import count_case, ladder_errors
from tests.benchmarks.inference_figures import Figure, right_away
from tests.benchmarks.inference_found import as_found, measured, readings
from tests.benchmarks.inference_oracle import oracle
from tests.benchmarks.inference_peers import peers
from tests.benchmarks.inference_relations import verdicts_on
from tests.benchmarks.inference_truth import true_gears, true_ride
from tests.benchmarks.inference_wrong import wrong_stretches

if TYPE_CHECKING:
    from pathlib import Path


def short(name: str, **changes: object) -> Case:
    """One short ride of a case."""
    case = all_cases()[name]
    day = replace(case.days[-1], duration_s=900)
    return replace(case, days=(day,), **changes)  # type: ignore[arg-type]


def test_every_kind_of_case_is_there() -> None:
    """Wheel sensor and satellite, given and not, stepless, merged, wrong in one gear."""
    cases = all_cases().values()
    assert len(cases) >= 12
    assert len({case.seed for case in cases}) == len(cases)
    assert {is_satellite(case) for case in cases} == {True, False}
    assert {case.given for case in cases} == {True, False}
    assert any(case.ladder.stepless for case in cases)
    assert any(case.built for case in cases)
    assert any(case.body.motor for case in cases)
    assert all(len(case.days) >= 3 for case in cases)
    assert len(SIX_BY_FOURTEEN.stages[0].choices) * len(SIX_BY_FOURTEEN.stages[2].choices) == 84
    assert len(all_cases()["18-speed gearbox, trike, wheel sensor"].ladder.gears) == 18
    assert EIGHTEEN.stages[0].ends[0] < 1.0


def test_a_simulated_ride_is_handed_on_as_the_reader_hands_on_its_file(tmp_path: Path) -> None:
    """Reading the file that the ride writes gives the same samples and the same source of speed."""
    for name in ("14-speed hub, satellite", "9-speed gearbox, power, 1/128 rpm"):
        made = short(name).rides()[0]
        made.to_fit(tmp_path / "ride.fit", datetime(2026, 5, 1, 8, tzinfo=UTC))
        read, direct = read_ride(tmp_path / "ride.fit"), as_read(made, "ride")
        assert_frame_equal(read.samples, direct.samples, abs_tol=1e-6)
        assert read.speed_source == direct.speed_source
        assert read.sensors == direct.sensors
        assert read.cadence_resolution_rpm == direct.cadence_resolution_rpm


def test_everyone_names_gears_and_the_oracle_names_them_best() -> None:
    """On a clean wheel sensor all are right on most samples, and the oracle on nearly all."""
    case = short("14-speed hub, wheel sensor")
    rides = case.rides()
    read = readings(case, rides)
    truths, gears = [true_ride(ride) for ride in rides], true_gears(rides)
    found = {"ours": as_found(measured(case, read)), **peers(case, read)}
    scale = float(np.log(case.body.rollout_m))
    right = {
        method: right_away(count_case(one, truths, gears, True, scale)) or 0.0
        for method, one in found.items()
    }
    told = oracle(rides, read)
    best = right_away(count_case(told, truths, gears, True, 0.0)) or 0.0
    assert min(right.values()) > 0.75, right
    assert best > 0.97
    assert best > max(right[peer] for peer in right if peer != "ours")
    errors, lacking = ladder_errors(told.ln_developments, gears)
    assert lacking == 0
    assert max(map(abs, errors.values())) < 0.004


def test_where_nothing_is_given_peers_find_gears_of_their_own() -> None:
    """The mixture's components stand for a ladder that nobody published."""
    case = short("not given: 12 sprockets, wheel sensor")
    found = peers(case, readings(case, case.rides()))
    assert all(len(one.ln_developments) > 3 for one in found.values())


def test_a_campaign_can_be_drawn_again_and_no_two_are_alike() -> None:
    """The number is the seed."""
    assert drawn(7) == drawn(7)
    assert len({drawn(number).days for number in range(20)}) == 20
    built = [drawn(number).built is not None for number in range(60)]
    assert 0.05 < np.mean(built) < 0.35


@pytest.mark.parametrize("number", range(12))
def test_claims_are_true_or_false_as_said(number: int) -> None:
    """Every claim is off by more or less than its tolerance, from the ratios as built."""
    case = drawn(number)
    ratios = _built_ratios(case)
    values = list(ratios.values())
    for claim, holds in _claims(case, ratios, np.random.default_rng(number)):
        if claim.quantity == "gears":
            assert holds == (claim.value == len(case.ladder.gears))
            continue
        true = {
            "range": values[-1] / values[0],
            "ratio": ratios.get(claim.gear, 0.0),  # type: ignore[arg-type]
            "step": ratios.get(claim.gear, 0.0) / ratios.get(_below(claim), 1.0) - 1.0,  # type: ignore[arg-type]
            "development": ratios.get(claim.gear, 0.0) * case.body.rollout_m,  # type: ignore[arg-type]
        }[claim.quantity]
        assert (abs(true / claim.value - 1.0) <= claim.tolerance) == holds


def _below(claim: Claim) -> int:
    return int(claim.gear or 1) - 1


def test_a_claim_is_judged_through_the_relations() -> None:
    """Enough was ridden to say of a plain claim that it holds, and of a wild one that it fails."""
    case = all_cases()["14-speed hub, wheel sensor"]
    result = measured(case, readings(case, case.rides()))
    low, high = case.ladder.ends
    claims = [
        Claim(name, "fourteen", "range", factor * high / low, 0.02, "printed")
        for name, factor in (("plain", 1.0), ("wild", 1.2))
    ]
    assert verdicts_on(claims, case, result)["verdict"].to_list() == ["holds", "fails"]


def test_an_interval_counts_as_holding_only_what_lies_in_it() -> None:
    """Moved by half, no interval holds; narrow ones of the truth itself all do."""
    case = short("14-speed hub, wheel sensor")
    rides = case.rides()
    result, gears = measured(case, readings(case, rides)), true_gears(rides)
    ratio = pl.col("gear").replace_strict(
        {number: float(np.exp(gear.ln_ratio)) for number, gear in gears.items()}, default=1.0,
        return_dtype=pl.Float64,
    )  # fmt: skip
    for factor, holds in ((1.0, True), (1.5, False)):
        exact = result.gears.with_columns(
            ratio=ratio * factor,
            ratio_low=ratio * factor * 0.999,
            ratio_high=ratio * factor * 1.001,
        )
        tally = Tally()
        _count_intervals(replace(result, gears=exact), gears, tally)
        assert len(tally.ratios) > 4
        assert set(tally.ratios) == {holds}
        assert set(tally.steps) == {True}


@pytest.mark.parametrize(
    "name", ["14-speed hub, satellite", "not given: 12 sprockets, wheel sensor"]
)
def test_what_is_wrong_is_told_by_time_and_gear(name: str) -> None:
    """A line a measured gear, by its true number, and lines that name seconds."""
    told = wrong_stretches(short(name))
    assert sum(line.startswith("  gear ") for line in told) >= 4
    assert not any("never driven" in line for line in told)
    assert any("lag" in line for line in told)


def test_work_covers_every_case_once_and_quick_runs_a_share() -> None:
    """Cases, campaigns, unpublished and stepless vehicles."""
    full, quick = (inference.tasks(sizes) for sizes in (inference.FULL, inference.QUICK))
    names = [which for _, which in full if isinstance(which, str)]
    assert sorted(names) == sorted(all_cases())
    assert inference.FULL.campaigns >= 200
    assert len(set(full)) == len(full)
    assert set(quick) < set(full)
    assert {is_satellite(all_cases()[str(w)]) for k, w in quick if k == "case"} == {True, False}


def test_json_is_a_list_of_figures_and_nothing_else(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Objects of figure, value, goal, met; the exit tells whether all goals are met."""
    figures = [Figure("a", 0.5, ">= 0.4", True, {"peer": None}), Figure("b", 1.0, None, None, {})]
    monkeypatch.setattr(inference, "run", lambda _: (figures, {}, Tally()))
    assert inference.main(["--json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    assert [row["figure"] for row in printed] == ["a", "b"]
    assert printed[0].keys() >= {"figure", "value", "goal", "met"}
    figures.append(Figure("c", None, ">= 1", False, {}))
    assert inference.main(["--quick"]) == 1
    assert "NOT MET" in capsys.readouterr().out


def test_a_stepless_case_counts_whether_gears_are_named() -> None:
    """Published as stepless, none are."""
    tally = inference.run_stepless("stepless, wheel sensor")
    assert (tally.stepless, tally.as_gears) == (1, 0)


def test_days_may_bring_sensors_of_their_own() -> None:
    """Three skies, three delays."""
    case = all_cases()["14-speed hub, satellite"]
    lags = [case.scenario(day).sensors.lag_s for day in case.days]
    assert len(set(lags)) == 3
    plain = replace(case, days=(Day("town"),))
    assert plain.scenario(plain.days[0]).sensors == case.sensors
    assert case.truth == FOURTEEN
