"""The report: one page of HTML that opens from a file, reads the store and computes nothing new."""

from ridelab.report.diagnosis import diagnose, illustrate
from ridelab.report.page import write_report

__all__ = ["diagnose", "illustrate", "write_report"]
