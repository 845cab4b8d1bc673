"""What claims mean on paper, and what measured gears say of them: verdicts.

Analyses that are queries live in sql/analysis.
"""

from ridelab.analysis.on_paper import check_on_paper
from ridelab.analysis.pooled import pool_verdicts
from ridelab.analysis.verdicts import judge, judge_and_plan

__all__ = ["check_on_paper", "judge", "judge_and_plan", "pool_verdicts"]
