"""[loggers.NAME] becomes a checked description of a CSV file, or one error that says what to do."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelab.campaign.loggers import Channel, Logger, TimeColumn, _pattern
from ridelab.campaign.table import Table
from ridelab.errors import CampaignError

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridelab.campaign import Campaign

    from .conftest import Refused

BENCH = """
[loggers.bench]
delimiter = ";"
decimal = ","
encoding = "windows-1252"
skip_rows = 2
time = { column = "t [ms]", format = "milliseconds" }
starts_at = 2031-05-04T08:00:00Z
columns = { speed = { column = "v", unit = "km/h", source = "satellite" }, cadence = { column = "n" } }
"""  # noqa: E501 - as TOML has it
COLUMNS = 'columns = { speed = { column = "v" } }'
_FILE = Path("campaign.toml")
TIME = 'time = { column = "t", format = "seconds" }'


def logger(rest: str) -> str:
    """A campaign with one logger."""
    return f"[loggers.bench]\n{rest}\n"


def test_a_logger_is_read(read: Callable[[str], Campaign]) -> None:
    """Units become factors to SI; 1 km/h is 1/3.6 m/s."""
    assert read(BENCH).loggers == {
        "bench": Logger(
            name="bench",
            time=TimeColumn("t [ms]", "milliseconds"),
            channels=(Channel("speed", "v", 1 / 3.6), Channel("cadence", "n", 1.0)),
            delimiter=";",
            decimal=",",
            encoding="windows-1252",
            skip_rows=2,
            starts_at=datetime(2031, 5, 4, 8, tzinfo=UTC),
            speed_from="satellite",
        )
    }


def test_what_is_silent_has_its_default(read: Callable[[str], Campaign]) -> None:
    """A comma, a point, UTF-8, the header in the first line, SI units, UTC."""
    found = read(logger(f"{TIME}\n{COLUMNS}")).loggers["bench"]
    assert found == Logger("bench", TimeColumn("t", "seconds"), (Channel("speed", "v", 1.0),))
    assert found.columns == {"t", "v"}
    assert not found.needs_rollout


@pytest.mark.parametrize("quantity", ["wheel_pulses", "wheel_rpm"])
def test_turns_of_the_wheel_need_a_rollout_and_come_from_a_sensor(
    read: Callable[[str], Campaign], quantity: str
) -> None:
    """A pulse is a part of a turn."""
    columns = f'columns = {{ {quantity} = {{ column = "n" }} }}'
    found = read(logger(f"{TIME}\n{columns}")).loggers["bench"]
    assert found.needs_rollout
    assert found.speed_from == "wheel sensor"


def test_pulses_are_parts_of_a_turn(read: Callable[[str], Campaign]) -> None:
    """Six magnets on the wheel, one on the crank."""
    columns = (
        'columns.wheel_pulses = { column = "w", per_turn = 6 }\n'
        'columns.crank_pulses = { column = "c" }'
    )
    found = read(logger(f"{TIME}\n{columns}")).loggers["bench"]
    assert [channel.si for channel in found.channels] == [1 / 6, 1.0]


def test_vehicle_may_name_its_logger(read: Callable[[str], Campaign]) -> None:
    """Then only that one may have written its files; else any."""
    vehicle = '[vehicles.{0}]\nkind = "trike"\nrides = ["*.csv"]\n'
    campaign = read(
        vehicle.format("heron")
        + 'logger = "road"\n'
        + vehicle.format("otter")
        + logger(f"{TIME}\n{COLUMNS}")
        + f"[loggers.road]\n{TIME}\n{COLUMNS}\n"
    )
    assert [one.name for one in campaign.loggers_of("heron")] == ["road"]
    assert [one.name for one in campaign.loggers_of("otter")] == ["bench", "road"]


@pytest.mark.parametrize(
    ("pattern", "ours"),
    [
        ("%d.%m.%Y %H:%M:%S.%f", "%d.%m.%Y %H:%M:%S%.f"),
        ("%d.%m.%Y %H:%M:%S,%f", "%d.%m.%Y %H:%M:%S%.f"),
        ("%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M:%S"),
        ("%m/%d/%y %I:%M:%S %p", "%m/%d/%y %I:%M:%S %p"),
        ("%Y%m%d%H%M%S%f", "%Y%m%d%H%M%S%6f"),
        ("%Y%m%dT%H%M%S%z", "%Y%m%dT%H%M%S%z"),
    ],
)
def test_pattern_of_a_date_and_time_is_taken(
    read: Callable[[str], Campaign], pattern: str, ours: str
) -> None:
    """As Python's strptime has it; kept as the data frame library has it."""
    time = f'time = {{ column = "t", format = "{pattern}" }}'
    assert read(logger(f"{time}\n{COLUMNS}")).loggers["bench"].time.form == ours


@settings(deadline=None)
@given(st.text("%dmYHMSfz:. -jQ", max_size=24))
def test_any_other_pattern_is_refused_with_words(pattern: str) -> None:
    """Taken only if it reads back what it wrote; never another error."""
    table = Table(_FILE, "loggers.bench.time", {"format": pattern}, None)
    try:
        taken = _pattern(table, pattern)
    except CampaignError:
        return
    assert "%" in taken


@pytest.mark.parametrize(
    "given_at", ["2031-05-04T08:00:00+02:00", "2031-05-04T08:00:00", '"bench-%Y%m%d-%H%M"']
)
def test_start_may_be_a_date_and_time_or_a_pattern_of_the_name(
    read: Callable[[str], Campaign], given_at: str
) -> None:
    """One recording, or one of many by their names."""
    found = read(logger(f"{TIME}\n{COLUMNS}\nstarts_at = {given_at}")).loggers["bench"]
    assert found.starts_at is not None


@pytest.mark.parametrize(
    ("rest", "key", "found"),
    [
        (COLUMNS, "loggers.bench.time.format", "missing"),
        (f'{COLUMNS}\ntime = {{ format = "iso" }}', "loggers.bench.time.column", "missing"),
        (
            f'{COLUMNS}\ntime = {{ column = " ", format = "iso" }}',
            "loggers.bench.time.column",
            "found an empty name",
        ),
        (
            f'{COLUMNS}\ntime = {{ column = "t", format = "%H:%M:%S" }}',
            "loggers.bench.time.format",
            "found '%H:%M:%S'",
        ),
        (
            f'{COLUMNS}\ntime = {{ column = "t", format = "iso", zone = "Harbour" }}',
            "loggers.bench.time.zone",
            "found 'Harbour'",
        ),
        (TIME, "loggers.bench.columns", "missing"),
        (f"{TIME}\ncolumns = {{ weight = 5 }}", "loggers.bench.columns.weight", "unknown key"),
        (
            f'{TIME}\ncolumns = {{ speed = {{ column = "v", unit = "knots" }} }}',
            "loggers.bench.columns.speed.unit",
            "found 'knots' as a unit of speed",
        ),
        (
            f'{TIME}\ncolumns = {{ speed = {{ column = "v", source = "radar" }} }}',
            "loggers.bench.columns.speed.source",
            "found 'radar'",
        ),
        (
            f'{TIME}\ncolumns.speed = {{ column = "v" }}\ncolumns.wheel_rpm = {{ column = "n" }}',
            "loggers.bench.columns.wheel_rpm",
            "is there beside speed",
        ),
        (
            TIME + '\ncolumns.cadence = {column = "v"}\ncolumns.crank_pulses = {column = "n"}',
            "loggers.bench.columns.crank_pulses",
            "is there beside cadence",
        ),
        (
            f'{TIME}\ncolumns = {{ speed = {{ column = "t" }} }}',
            "loggers.bench.columns",
            "names one column for two things",
        ),
        (
            f'{TIME}\ncolumns = {{ wheel_pulses = {{ column = "n", per_turn = 0 }} }}',
            "loggers.bench.columns.wheel_pulses.per_turn",
            "found 0",
        ),
        (f'{TIME}\n{COLUMNS}\ndelimiter = "x"', "loggers.bench.delimiter", "found 'x'"),
        (f'{TIME}\n{COLUMNS}\ndecimal = ","', "loggers.bench.decimal", "is the delimiter too"),
        (f'{TIME}\n{COLUMNS}\nencoding = "hex"', "loggers.bench.encoding", "found 'hex'"),
        (f"{TIME}\n{COLUMNS}\nskip_rows = -1", "loggers.bench.skip_rows", "found -1"),
        (f'{TIME}\n{COLUMNS}\nstarts_at = "then"', "loggers.bench.starts_at", "found 'then'"),
        (f"{TIME}\n{COLUMNS}\nstarts_at = 08:00:00", "loggers.bench.starts_at", "found 08:00:00"),
        (
            f'{COLUMNS}\ntime = {{ column = "t", format = "iso" }}\nstarts_at = 2031-05-04',
            "loggers.bench.starts_at",
            "is there, but the times are dates",
        ),
        (f"{TIME}\n{COLUMNS}\nbaud = 9600", "loggers.bench.baud", "unknown key"),
    ],
)
def test_what_cannot_be_is_refused(refused: Refused, rest: str, key: str, found: str) -> None:
    """File, key, what was found, what would be accepted."""
    error = refused(logger(rest))
    assert (error.key, error.found) == (key, found)
    assert error.accepted


def test_vehicle_with_a_logger_nobody_defines_is_refused(refused: Refused) -> None:
    """The message lists those there are."""
    vehicle = '[vehicles.heron]\nkind = "trike"\nrides = ["*.csv"]\nlogger = "bensch"\n'
    error = refused(vehicle + logger(f"{TIME}\n{COLUMNS}"))
    assert error.key == "vehicles.heron.logger"
    assert "did you mean 'bench'?" in error.accepted
