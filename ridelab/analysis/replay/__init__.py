"""The rider's own road on another drivetrain.

``road`` (rides as a replay needs them) and ``gearing`` (ladders on a wheel) go into ``comfort``
(what a cadence costs), ``ahead`` (the cheapest gears for a known road), ``habits`` (as this rider
shifts) and ``effort`` (the same effort instead of the same speed); ``replay`` puts them together
for some rides, ``vehicle`` for all of a vehicle, ``tally`` sums up, ``relations`` makes rows.
"""

#: Changes with what replays come to, so that stores have them made anew.
VERSION = 1
