"""What measured gears mean: verdicts on claims. Analyses that are queries live in sql/analysis."""

from ridelab.analysis.verdicts import judge, judge_and_plan

__all__ = ["judge", "judge_and_plan"]
