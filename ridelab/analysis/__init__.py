"""What claims mean on paper, and what measured gears say of them: verdicts.

Analyses that are queries live in sql/analysis.
"""

from ridelab.analysis.evidence import gather_all
from ridelab.analysis.on_paper import check_on_paper
from ridelab.analysis.pooled import pool_claims
from ridelab.analysis.verdicts import judge, judge_and_plan, judge_evidence, read_claims

__all__ = [
    "check_on_paper",
    "gather_all",
    "judge",
    "judge_and_plan",
    "judge_evidence",
    "pool_claims",
    "read_claims",
]
