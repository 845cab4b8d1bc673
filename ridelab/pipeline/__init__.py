"""Pipelines: files that name stages in order, and what runs them."""

from ridelab.pipeline.context import Listen, Outcome, PlannedStage, Progress
from ridelab.pipeline.executing import usual_workers
from ridelab.pipeline.forgetting import Forgettable, Wanted, forgettable
from ridelab.pipeline.running import Plan, plan, run
from ridelab.pipeline.specification import Pipeline, Step, load, names, source
from ridelab.pipeline.stages import first_part

__all__ = [
    "Forgettable",
    "Listen",
    "Outcome",
    "Pipeline",
    "Plan",
    "PlannedStage",
    "Progress",
    "Step",
    "Wanted",
    "first_part",
    "forgettable",
    "load",
    "names",
    "plan",
    "run",
    "source",
    "usual_workers",
]
