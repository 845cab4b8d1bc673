"""What one vehicle measured of a claimed quantity, on a scale where errors add."""

from __future__ import annotations

from math import exp, expm1, log, log1p
from typing import TYPE_CHECKING

from ridelab.analysis.doubts import doubt
from ridelab.analysis.estimates import Estimate, estimate, named_gear
from ridelab.analysis.evidence import TAIL, quantile
from ridelab.analysis.losses.measured import half_width
from ridelab.analysis.random_effects import Piece
from ridelab.campaign.model import BY_TWO_METERS, COUNTS

if TYPE_CHECKING:
    from ridelab.analysis.evidence import Evidence
    from ridelab.campaign import Claim

#: A half width is so many standard errors; a second, surer one tells it from what stays open.
_SURER = 0.1
_NORMAL = 1.959964  # two-sided 95 %


def piece_of(claim: Claim, evidence: Evidence) -> Piece | None:
    """Return what a vehicle measured of a quantity in full; None where it did not, or in doubt.

    The half widths of an interval are so many standard errors as the rides' degrees of freedom ask
    for, and what is open whatever is ridden. Two intervals, one surer than the other, tell the two
    apart. The error is that of a normal distribution with the same 95 % interval.
    """
    if claim.quantity in COUNTS or doubt(claim, evidence):
        return None
    if claim.quantity in BY_TWO_METERS:
        return _piece_of_meters(claim, evidence)
    usual, surer = (estimate(claim, evidence.surer(share)) for share in (1.0, _SURER))
    if not (isinstance(usual, Estimate) and isinstance(surer, Estimate)):
        return None
    if usual.to_ride or usual.shows != "all" or min(usual.measured.low, surer.measured.low) <= 0:
        return None
    at = _forth(claim, usual.measured.value)
    times, more = (quantile(evidence.precision, TAIL * share) for share in (1.0, _SURER))
    errors, spans = [], []
    for end in ("low", "high"):
        near, far = (abs(_forth(claim, getattr(one.measured, end)) - at) for one in (usual, surer))
        error = max(0.0, (far - near) / (more - times))
        errors.append(error * times / _NORMAL)
        spans.append(max(0.0, near - error * times))
    return Piece(evidence.vehicle, at, max(errors), *spans)


def _piece_of_meters(claim: Claim, evidence: Evidence) -> Piece | None:
    usual = estimate(claim, evidence)
    if not isinstance(usual, Estimate) or usual.to_ride:
        return None
    passed = evidence.passed[None if claim.gear is None else named_gear(claim, evidence)]
    error = half_width(passed.scatter, passed.freedom, 1.0) / _NORMAL
    at = log(passed.wheel_over_crank)
    return Piece(evidence.vehicle, at, error, passed.accuracy, passed.accuracy)


def _forth(claim: Claim, value: float) -> float:
    """Return the logarithm of a value, of a step that of its factor."""
    if claim.quantity == "cadence change":
        value /= claim.at_cadence_rpm or 1.0
    if claim.quantity in {"step", "cadence change"}:
        return log1p(value)
    return log(value)


def back(claim: Claim, at: float) -> float:
    """Return the value in the unit of the claim again."""
    if claim.quantity == "cadence change":
        return expm1(at) * (claim.at_cadence_rpm or 1.0)
    if claim.quantity == "step":
        return expm1(at)
    return min(exp(at), 1.0) if claim.quantity in BY_TWO_METERS else exp(at)
