"""What measured gears mean: verdicts on claims. Analyses that are queries live in sql/analysis."""

from ridelab.analysis.verdicts import judge

__all__ = ["judge"]
