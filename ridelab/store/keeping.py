"""What is kept of measured rides, as rows of ``fitted_ladders`` and ``ride_statistics``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from ridelab.gears.kept import Kept, KeptRide
from ridelab.gears.ladder import Rungs
from ridelab.gears.precision import Scatter
from ridelab.gears.spells import Spells

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridelab.gears.observations import Floats
    from ridelab.store.database import Database

_NUMBERS, _WHOLE = pl.List(pl.Float64()), pl.List(pl.Int32())
_LADDER = pl.Schema(
    {
        "vehicle": pl.String(),
        "ln_developments": _NUMBERS,
        "numbers": _WHOLE,
        "ln_ratios": _NUMBERS,
        "expected": _NUMBERS,
        "members": _NUMBERS,
        "unridden": _WHOLE,
        "doubts": pl.List(pl.String()),
        "log_prior": pl.Float64(),
        "placement_probability": pl.Float64(),
        "unexplained_share": pl.Float64(),
        "counts": _WHOLE,
        "count_probabilities": _NUMBERS,
        "fitted": pl.Int32(),
        "kept": pl.Int32(),
        "others": pl.List(pl.String()),
        "basis": pl.String(),
        "cadence_low_rpm": pl.Float64(),
        "cadence_high_rpm": pl.Float64(),
    }
)
_RIDE = pl.Schema(
    {
        "ride": pl.String(),
        "seconds": _NUMBERS,
        "metres": _NUMBERS,
        "spell_gears": _WHOLE,
        "spell_ln_developments": _NUMBERS,
        "spell_sds": _NUMBERS,
        "spell_biases": _NUMBERS,
        "spell_gaining_hz": _NUMBERS,
        "spell_gaining_turns": _NUMBERS,
        "usual_sd": pl.Float64(),
        "second_share": pl.Float64(),
        "second_mps2": pl.Float64(),
        "bias_mps": pl.Float64(),
    }
)


def ladder_row(vehicle: str, kept: Kept) -> pl.DataFrame:
    """Return the row of ``fitted_ladders``."""
    rungs = kept.rungs
    row = {
        "vehicle": vehicle,
        "ln_developments": rungs.ln_developments.tolist(),
        "numbers": rungs.numbers.tolist(),
        "ln_ratios": _listed(rungs.ln_ratios),
        "expected": _listed(rungs.expected),
        "members": _listed(None if rungs.members is None else rungs.members.T.ravel()),
        "unridden": list(kept.unridden),
        "doubts": list(rungs.doubts),
        "log_prior": rungs.log_prior,
        "placement_probability": rungs.placement_probability,
        "unexplained_share": rungs.unexplained_share,
        "counts": [count for count, _ in rungs.count_probabilities],
        "count_probabilities": [share for _, share in rungs.count_probabilities],
        "fitted": kept.fitted,
        "kept": len(kept.rides),
        "others": list(kept.others),
        "basis": kept.basis,
        "cadence_low_rpm": kept.usual_rpm[0],
        "cadence_high_rpm": kept.usual_rpm[1],
    }
    return pl.DataFrame([row], schema=_LADDER)


def ride_rows(rides: Iterable[KeptRide]) -> pl.DataFrame:
    """Return the rows of ``ride_statistics``."""
    rows = [
        {
            "ride": one.ride,
            "seconds": one.seconds.tolist(),
            "metres": one.metres.tolist(),
            "spell_gears": one.spells.gear.tolist(),
            "spell_ln_developments": one.spells.ln_development.tolist(),
            "spell_sds": one.spells.sd.tolist(),
            "spell_biases": one.spells.bias.tolist(),
            "spell_gaining_hz": one.spells.gaining_hz.tolist(),
            "spell_gaining_turns": one.spells.gaining_turns.tolist(),
            "usual_sd": one.usual_sd,
            "second_share": one.scatter.share,
            "second_mps2": one.scatter.speed_mps2,
            "bias_mps": one.scatter.bias_mps,
        }
        for one in rides
    ]
    return pl.DataFrame(rows, schema=_RIDE)


def load(database: Database, vehicle: str) -> Kept | None:
    """Return what is kept of a vehicle; None where nothing is, or rides have gone since."""
    found = database.read("select * from fitted_ladders where vehicle = ?", [vehicle])
    if not len(found):
        return None
    rides = database.read(
        "select ride_statistics.* from ride_statistics "
        "inner join recorded_rides using (ride) where vehicle = ? order by started_at, ride",
        [vehicle],
    )
    row = found.row(0, named=True)
    gears = len(row["numbers"])
    if len(rides) != row["kept"] or (rides["seconds"].list.len() != gears).any():
        return None
    return Kept(
        _rungs(row),
        tuple(row["unridden"]),
        row["fitted"],
        (row["cadence_low_rpm"], row["cadence_high_rpm"]),
        tuple(_ride(one) for one in rides.iter_rows(named=True)),
        tuple(row["others"]),
        row["basis"],
    )


def _rungs(row: dict[str, Any]) -> Rungs:
    gears = len(row["numbers"])
    members = _array(row["members"])
    return Rungs(
        ln_developments=np.array(row["ln_developments"]),
        numbers=np.array(row["numbers"], dtype=np.int64),
        ln_ratios=_array(row["ln_ratios"]),
        doubts=tuple(row["doubts"]),
        placement_probability=row["placement_probability"],
        unexplained_share=row["unexplained_share"],
        expected=_array(row["expected"]),
        log_prior=row["log_prior"],
        members=None if members is None else members.reshape(gears, -1).T,
        count_probabilities=tuple(zip(row["counts"], row["count_probabilities"], strict=True)),
    )


def _ride(row: dict[str, Any]) -> KeptRide:
    gears = np.array(row["spell_gears"], dtype=np.int64)
    spells = Spells(
        gear=gears,
        ride=np.zeros_like(gears),
        ln_development=np.array(row["spell_ln_developments"], dtype=np.float64),
        sd=np.array(row["spell_sds"], dtype=np.float64),
        bias=np.array(row["spell_biases"], dtype=np.float64),
        gaining_hz=np.array(row["spell_gaining_hz"], dtype=np.float64),
        gaining_turns=np.array(row["spell_gaining_turns"], dtype=np.float64),
    )
    return KeptRide(
        row["ride"],
        spells,
        np.array(row["seconds"]),
        np.array(row["metres"]),
        Scatter(row["second_share"], row["second_mps2"], row["bias_mps"]),
        row["usual_sd"],
    )


def _listed(values: Floats | None) -> list[float] | None:
    return None if values is None else values.tolist()


def _array(values: list[float] | None) -> Floats | None:
    return None if values is None else np.array(values)
