"""ridelab measures the gear ladder of a cycle from its ride files.

The front door, for notebooks and scripts; each name is loaded when first asked for, so that the
command line's ``--help`` waits for none of them::

    ride = ridelab.read_ride("rides/heron/0412.fit")
    found = ridelab.measure_vehicle("heron", [ride], ladder=None, stated_rollout_m=1.563)
    found.gears        # a polars frame: ratio, its interval, development, seconds in each gear
    ridelab.diagnose("campaign.toml", "heron")["stretch"]    # an altair chart of a campaign's store
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ridelab.campaign import Campaign, load
    from ridelab.drivetrain.ladder import Ladder, published_ladder
    from ridelab.errors import RidelabError
    from ridelab.gears import VehicleGears, measure_vehicle
    from ridelab.pipeline import run
    from ridelab.report import diagnose, illustrate
    from ridelab.store import Store
    from ridelab.telemetry import Ride, read_ride

__version__ = "0.1.0"

_HOME = {
    "Campaign": "ridelab.campaign",
    "Ladder": "ridelab.drivetrain.ladder",
    "Ride": "ridelab.telemetry",
    "RidelabError": "ridelab.errors",
    "Store": "ridelab.store",
    "VehicleGears": "ridelab.gears",
    "diagnose": "ridelab.report",
    "illustrate": "ridelab.report",
    "load": "ridelab.campaign",
    "measure_vehicle": "ridelab.gears",
    "published_ladder": "ridelab.drivetrain.ladder",
    "read_ride": "ridelab.telemetry",
    "run": "ridelab.pipeline",
}

__all__ = [
    "Campaign",
    "Ladder",
    "Ride",
    "RidelabError",
    "Store",
    "VehicleGears",
    "diagnose",
    "illustrate",
    "load",
    "measure_vehicle",
    "published_ladder",
    "read_ride",
    "run",
]


def __getattr__(name: str) -> object:
    """Load a name of the front door from the room it lives in."""
    if name not in _HOME:
        raise AttributeError(f"module 'ridelab' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)
