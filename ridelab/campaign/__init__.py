"""campaign.toml -> checked objects: nothing below this room meets a raw dictionary."""

from ridelab.campaign.loggers import Logger
from ridelab.campaign.model import (
    BY_TWO_METERS,
    COUNTS,
    UNTESTABLE,
    Bound,
    Campaign,
    Claim,
    ClaimQuantity,
    Kind,
    Units,
    Vehicle,
    Which,
)
from ridelab.campaign.mounting import Mounted
from ridelab.campaign.read import load
from ridelab.campaign.rides import FoundRides, find_rides, require_rides
from ridelab.campaign.service import Serviced, service_problems
from ridelab.campaign.starter import STARTER, single_vehicle, write_starter
from ridelab.campaign.summary import describe
from ridelab.campaign.torques import Load, limited_loads, loads_on, torque_problems
from ridelab.campaign.wheels import wheel_problems

__all__ = [
    "BY_TWO_METERS",
    "COUNTS",
    "STARTER",
    "UNTESTABLE",
    "Bound",
    "Campaign",
    "Claim",
    "ClaimQuantity",
    "FoundRides",
    "Kind",
    "Load",
    "Logger",
    "Mounted",
    "Serviced",
    "Units",
    "Vehicle",
    "Which",
    "describe",
    "find_rides",
    "limited_loads",
    "load",
    "loads_on",
    "require_rides",
    "service_problems",
    "single_vehicle",
    "torque_problems",
    "wheel_problems",
    "write_starter",
]
