"""Lags: which were chosen, how much hangs on them, and which rides are drawn."""

from __future__ import annotations

from math import exp
from typing import TYPE_CHECKING

import polars as pl
import pytest

from ridelab.report.findings import read_findings
from ridelab.report.lags import lag_curves, lag_table, sentence
from ridelab.report.markup import text
from tests.report import fabricated
from tests.report.parsed import parse

if TYPE_CHECKING:
    from tests.report.fabricated import FabricatedStore

MOST_DRAWN = 8


@pytest.fixture(scope="module")
def heron(store: FabricatedStore) -> pl.DataFrame:
    """Return the lags tried in heron's two rides, both sharpest at 0.4 s with the speed field."""
    return read_findings(store).vehicles[0].lags


def test_densities_are_told_beside_the_best_of_the_ride(heron: pl.DataFrame) -> None:
    """Sharpness is a mean log density: half a second off, exp(-0.5²) is left."""
    speed = heron.filter(pl.col("channel") == "speed field")
    at = {round(lag, 1): share for lag, share in speed.select("lag_s", "relative").iter_rows()}
    assert at[0.4] == pytest.approx(1.0)
    assert at[0.9] == at[-0.1] == pytest.approx(exp(-0.25))
    assert heron.filter(pl.col("channel") == "distance field")["relative"].to_list() == (
        pytest.approx([exp(-2.0)] * 62)
    )


def test_the_sentence_tells_channel_lag_and_what_half_a_second_costs(heron: pl.DataFrame) -> None:
    """1 - exp(-0.25) is 22 %."""
    said = sentence(heron).replace("\u00a0", " ")
    assert "most with the speed field, at a lag of 0.4 s." in said
    assert said.endswith("less densely, by 22 %.")


def test_a_flat_hill_is_owned_up_to(heron: pl.DataFrame) -> None:
    """Where half a second costs less than 5 %, the lag is hardly told."""
    flat = heron.with_columns(pl.col("relative") ** 0.1)
    assert "hardly tells one lag from the next" in sentence(flat)


def test_rides_that_differ_are_counted_by_channel(heron: pl.DataFrame) -> None:
    """One by the speed field at 0.4 s, one by the distance field at 2 s."""
    second = heron["ride"][-1]
    other = pl.col("ride") == second
    mixed = heron.with_columns(
        used_channel=pl.when(other).then(pl.lit("distance field")).otherwise("used_channel"),
        used_lag_s=pl.when(other).then(2.0).otherwise("used_lag_s"),
    )
    said = sentence(mixed).replace("\u00a0", " ")
    assert (
        "with the distance field (1 ride), the speed field (1 ride), at a lag of 0.4 s to 2 s"
        in (said)
    )


def test_each_ride_is_a_hill_with_the_chosen_lag_marked(heron: pl.DataFrame) -> None:
    """Highest at 0.4 s, on the ground of its own row; the mark stands at the lag used."""
    sets = lag_curves(heron).to_dict()["datasets"].values()
    (hills,) = (rows for rows in sets if rows and isinstance(rows[0].get("y"), list))
    used = [row for row in hills if row["kind"] == "speed channel used"]
    assert [row["ride"] for row in used] == [0, 1]
    for row in used:
        assert row["lag"][row["y"].index(min(row["y"]))] == pytest.approx(0.4)
        assert row["ride"] < min(row["y"]) < max(row["y"]) <= row["foot"] < row["ride"] + 1
    (choices,) = (rows for rows in sets if rows and "choice" in rows[0])
    assert [row["lag"] for row in choices] == [0.4, 0.4]


def test_the_table_says_how_the_channel_that_was_not_used_did(heron: pl.DataFrame) -> None:
    """Its best lag, its density beside the best of all: exp(-2) is 14 %."""
    page = parse(lag_table(heron, text("Lags")))
    rows = [[cell.text for cell in row.children] for row in page.all("tr")[1:]]
    assert rows[0] == ["rides/heron/day-1.fit", "speed field", "0.4", "100", "100"]
    assert rows[1][1:] == ["distance field", "−1", "14", "not used"]
    assert len(rows) == 4


def test_a_mean_of_both_channels_is_told(heron: pl.DataFrame) -> None:
    """With the weight of the other one, in words, on its hill and in the table."""
    first = pl.col("ride") == heron["ride"][0]
    mixed = heron.with_columns(other_share=pl.when(first).then(0.3).otherwise(0.0))
    assert "The other channel joins by 30\u00a0% in 1\u00a0ride, under" in sentence(mixed)
    assert "joins" not in sentence(heron)
    sets = lag_curves(mixed).to_dict()["datasets"].values()
    (choices,) = (rows for rows in sets if rows and "choice" in rows[0])
    assert [row["choice"].endswith(", other 30\u00a0%") for row in choices] == [True, False]
    page = parse(lag_table(mixed, text("Lags")))
    weights = [row.children[-1].text for row in page.all("tr")[1:]]
    assert weights == ["70", "30", "100", "not used"]


def test_only_the_rides_that_were_pedalled_most_are_drawn() -> None:
    """Ten rides of which the first was pedalled least: eight hills, and two are told of."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "tern")
    rides = [fabricated.ride(store, "tern", number, {1: 1.0, 2: 1.4}) for number in range(1, 11)]
    store.run(
        f"update engaged_samples set development_m = null where ride = '{rides[0]}' and n > 9"  # noqa: S608 - of our own making
    )
    lags = read_findings(store).vehicles[0].lags
    assert lags["ride"].n_unique() == MOST_DRAWN
    assert rides[0] not in set(lags["ride"])
    assert "Not drawn: 2\u00a0rides with less pedalling." in sentence(lags)
    assert lags["path"].unique(maintain_order=True).to_list() == sorted(
        set(lags["path"]), key=lambda path: int(path.rpartition("-")[2].removesuffix(".fit"))
    )
