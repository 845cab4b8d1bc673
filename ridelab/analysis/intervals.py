"""Intervals of quotients, and of what follows from them.

Ratios of different gears are taken as independently measured, for want of how they go together:
neighbours' steps and the range are measured as such. The interval of a quotient then
follows from those of its parts in the logarithm, side by side, since an interval need not be
symmetric (MOVER; G. Y. Zou and A. Donner, Statistics in Medicine 27 (2008) 1693-1702).
"""

from __future__ import annotations

from math import exp, hypot, log
from typing import TYPE_CHECKING

from ridelab.gears.result import Interval

if TYPE_CHECKING:
    from collections.abc import Callable


def quotient(above: Interval, below: Interval) -> Interval:
    """Return ``above / below`` with its interval."""
    middle = log(above.value / below.value)
    down = hypot(log(above.value / above.low), log(below.high / below.value))
    up = hypot(log(above.high / above.value), log(below.value / below.low))
    return Interval(exp(middle), exp(middle - down), exp(middle + up))


def apart(above: Interval, below: Interval) -> Interval:
    """Return ``above / below`` with the interval that holds it however their errors go together."""
    return Interval(above.value / below.value, above.low / below.high, above.high / below.low)


def exactly(value: float) -> Interval:
    """Return the interval of a value that has no uncertainty, such as a published one."""
    return Interval(value, value, value)


def widened(interval: Interval, times: float) -> Interval:
    """Return the interval with its halves so many times as wide, in the logarithm."""
    value = interval.value
    return Interval(
        value, value * (interval.low / value) ** times, value * (interval.high / value) ** times
    )


def opened(interval: Interval, down: float, up: float) -> Interval:
    """Return the interval with its ends further out by so much in the logarithm."""
    return Interval(interval.value, interval.low * exp(-down), interval.high * exp(up))


def scaled(interval: Interval, change: Callable[[float], float]) -> Interval:
    """Return the interval after an increasing change of its three figures."""
    return Interval(change(interval.value), change(interval.low), change(interval.high))
