"""The heart: observations -> ladder -> engaged gear."""

from ridelab.gears.more import may_add, measure_more
from ridelab.gears.result import Interval, MeasuredRange, RideGears, VehicleGears
from ridelab.gears.vehicle import VERSION, measure_vehicle

__all__ = [
    "VERSION",
    "Interval",
    "MeasuredRange",
    "RideGears",
    "VehicleGears",
    "may_add",
    "measure_more",
    "measure_vehicle",
]
