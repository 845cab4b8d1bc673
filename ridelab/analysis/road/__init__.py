"""What the road was like: time and way of each sample, how steep it was, how much it climbed."""

from ridelab.analysis.road.altimeter import AltitudeSource, altitude_source
from ridelab.analysis.road.moments import MOMENT_SCHEMA, PROFILE_SCHEMA, ridden_road
from ridelab.analysis.road.profile import RoadProfile, swings

__all__ = [
    "MOMENT_SCHEMA",
    "PROFILE_SCHEMA",
    "AltitudeSource",
    "RoadProfile",
    "altitude_source",
    "ridden_road",
    "swings",
]
