"""Rides with a known truth, for tests, the demo and benchmarks.

``simulate_ride`` rides a ``Scenario``: a rider on a vehicle along a course, with sensors. Errors
come from causes, as in real files, so that an inference is not flattered: a sensor counts turns
between pulses, a freewheel lets the crank lag behind, a hand shifts late.
"""

from ridelab.simulate.course import Course, Junction, Piece, build_course
from ridelab.simulate.gearing import Gears, Setting, Stepless, from_drivetrain, from_ratios
from ridelab.simulate.ride import TRUE_SHIFT_SCHEMA, TRUTH_SCHEMA, SimulatedRide, simulate_ride
from ridelab.simulate.scenario import Rider, Scenario, Sensors, Vehicle

__all__ = [
    "TRUE_SHIFT_SCHEMA",
    "TRUTH_SCHEMA",
    "Course",
    "Gears",
    "Junction",
    "Piece",
    "Rider",
    "Scenario",
    "Sensors",
    "Setting",
    "SimulatedRide",
    "Stepless",
    "Vehicle",
    "build_course",
    "from_drivetrain",
    "from_ratios",
    "simulate_ride",
]
