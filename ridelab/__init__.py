"""ridelab measures the gear ladder of a cycle from its ride files."""

__version__ = "0.1.0"
