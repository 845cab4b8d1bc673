"""Rides with a known truth, for tests, the demo and benchmarks.

``simulate_ride`` rides a ``Scenario``: a rider on a vehicle along a course, with sensors. Errors
come from causes, as in real files, so that an inference is not flattered: a sensor counts turns
between pulses, a freewheel lets the crank lag behind, a hand shifts late, a motor drives the wheel
without the crank, a tyre rolls a little further on a warm day. What is not asked for is left out:
a plain ``Scenario`` has no wind, no motor, a tyre of one rollout and sound sensors.
"""

from ridelab.simulate.course import Course, Junction, Piece, build_course
from ridelab.simulate.faults import PulseFault
from ridelab.simulate.gearing import Gears, Setting, Stepless, from_drivetrain, from_ratios
from ridelab.simulate.motor import HubMotor
from ridelab.simulate.ride import TRUE_SHIFT_SCHEMA, TRUTH_SCHEMA, SimulatedRide, simulate_ride
from ridelab.simulate.scenario import Rider, Scenario, Sensors, Tyre, Vehicle
from ridelab.simulate.weather import Wind

__all__ = [
    "TRUE_SHIFT_SCHEMA",
    "TRUTH_SCHEMA",
    "Course",
    "Gears",
    "HubMotor",
    "Junction",
    "Piece",
    "PulseFault",
    "Rider",
    "Scenario",
    "Sensors",
    "Setting",
    "SimulatedRide",
    "Stepless",
    "Tyre",
    "Vehicle",
    "Wind",
    "build_course",
    "from_drivetrain",
    "from_ratios",
    "simulate_ride",
]
