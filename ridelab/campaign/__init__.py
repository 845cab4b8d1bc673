"""campaign.toml -> checked objects: nothing below this room meets a raw dictionary."""

from ridelab.campaign.loggers import Logger
from ridelab.campaign.model import Campaign, Claim, ClaimQuantity, Kind, Units, Vehicle
from ridelab.campaign.read import load
from ridelab.campaign.rides import FoundRides, find_rides, require_rides
from ridelab.campaign.starter import STARTER, single_vehicle, write_starter
from ridelab.campaign.summary import describe

__all__ = [
    "STARTER",
    "Campaign",
    "Claim",
    "ClaimQuantity",
    "FoundRides",
    "Kind",
    "Logger",
    "Units",
    "Vehicle",
    "describe",
    "find_rides",
    "load",
    "require_rides",
    "single_vehicle",
    "write_starter",
]
