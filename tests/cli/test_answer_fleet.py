"""The first screen of a shop: what needs hands, then the fleet."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

import pytest

from ridelab.cli.answer_fleet import print_fleet
from tests.report.fabricated import FabricatedStore, vehicle

if TYPE_CHECKING:
    from collections.abc import Callable

TOLD_ON = date(2031, 6, 1)


@pytest.fixture
def screen(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Callable[[FabricatedStore], list[str]]:
    """Return a function that prints a store and returns the lines."""
    monkeypatch.setenv("COLUMNS", "80")

    def lines(store: FabricatedStore) -> list[str]:
        print_fleet(store, "metric")
        return capsys.readouterr().out.splitlines()

    return lines


def a_fleet(*names: str) -> FabricatedStore:
    """Vehicles of which nothing is known yet."""
    store = FabricatedStore()
    for name in names:
        vehicle(store, name)
    return store


def service(store: FabricatedStore, name: str, state: str, **told: object) -> None:
    """Tell when a vehicle is due."""
    usual = {"told_on": TOLD_ON, "counted_from": "service", "pace": "steady"}
    store.add("service", {"vehicle": name, "state": state} | usual | told)


def finding(store: FabricatedStore, name: str, kind: str, said: str, **told: object) -> None:
    """Tell of a ladder."""
    store.add("ladder_health", {"vehicle": name, "kind": kind, "finding": said, "tests": 9} | told)


def a_ride(store: FabricatedStore, name: str, of: str | None, **health: Any) -> None:  # noqa: ANN401 - columns
    """Store a ride, and what its sensors did."""
    facts = {"path": f"{name}.fit", "sha256": name, "format": "fit", "duration_s": 3600.0}
    facts |= {"started_at": datetime(2031, 5, 9, 8, tzinfo=UTC), "samples": 3600}
    facts |= {"speed_source": "wheel sensor", "sensors": "", "reader": "x"}
    facts |= {"cadence_resolution_rpm": 1.0, "distance_m": 21_000.0}
    store.add("recorded_rides", {"ride": name, "vehicle": of} | facts)
    if health:
        usual = {"moving_s": 3600.0, "cadence_dropouts": 0, "longest_silence_s": 1.0}
        store.add(
            "sensor_health", {"ride": name, "vehicle": of, "held_cadence_s": 0.0} | usual | health
        )


def test_sound_fleet_needs_no_hands(screen: Callable[[FabricatedStore], list[str]]) -> None:
    """Said in words, before the table."""
    store = a_fleet("heron")
    service(store, "heron", "later", next_on=date(2032, 1, 1))
    finding(store, "heron", "sound", "nothing")
    a_ride(store, "r1", "heron", state="sound")
    lines = screen(store)
    assert lines[0].startswith("1 vehicle, 1 ride: 21.0 km")
    assert lines[1].startswith("nothing needs hands")
    [row] = [line for line in lines if line.startswith("heron")]
    assert row.split()[-3:] == ["sound", "2032-01-01", "sound"]


def test_what_is_overdue_comes_first(screen: Callable[[FabricatedStore], list[str]]) -> None:
    """Then what is due soon, ladders, sensors that fail, rides without a vehicle."""
    store = a_fleet("heron", "otter", "wren", "tern")
    a_ride(store, "r1", "tern", state="failing", finding="no cadence for 90 % of the time")
    a_ride(store, "r2", None)
    store.add(
        "unassigned_rides",
        {"ride": "r2", "path": "inbox/r2.fit", "started_at": TOLD_ON, "reason": "no rule"},
    )
    finding(store, "wren", "gear off", "gear 4 is 4.8 % above", gear=4, size=0.048)
    service(store, "heron", "soon", remaining_days=12, due_on=date(2031, 6, 13), next_by="months")
    service(store, "otter", "overdue", remaining_days=-1, remaining_m=-42_000.0)
    lines = screen(store)
    assert [line for line in lines if line.startswith("- ")] == [
        "- otter: service overdue by 1 day and 42.0 km",
        "- heron: service due on 2031-06-13",
        "- wren: gear 4 is 4.8 % above",
        "- tern: no cadence for 90 % of the time: look at its sensors",
        "- 1 ride without a vehicle: inbox/r2.fit: no rule",
        "- no ride of heron, otter, wren was read: ladders and sensors not looked at",
    ]


def test_nothing_is_called_sound_that_was_not_looked_at(
    screen: Callable[[FabricatedStore], list[str]],
) -> None:
    """A fleet of which no ride was read; many vehicles are counted, not named."""
    said = screen(a_fleet(*"abcd"))
    assert said[1:3] == [
        "needs hands:",
        "- no ride of 4 vehicles was read: ladders and sensors not looked at",
    ]


def test_way_left_tells_how_sure_its_day_is(screen: Callable[[FabricatedStore], list[str]]) -> None:
    """By the pace so far, which may be a guess."""
    store = a_fleet("heron")
    told: dict[str, object] = {"remaining_m": 300_000.0, "expected_on": date(2031, 6, 20)}
    service(store, "heron", "soon", next_by="distance", **(told | {"pace": "erratic"}))
    said = " ".join(line.strip() for line in screen(store)[2:4])
    assert "service 300.0 km left, at its pace until 2031-06-20, roughly" in said


def test_twenty_vehicles_fit_a_screen(screen: Callable[[FabricatedStore], list[str]]) -> None:
    """80 columns, one table; of many needs the first eight."""
    names = [f"vehicle{n}" for n in range(20)]
    store = a_fleet(*names)
    for name in names[:12]:
        service(store, name, "overdue", remaining_days=-30)
    lines = screen(store)
    assert max(map(len, lines)) <= 80
    assert sum(line.startswith("- ") for line in lines) == 8
    assert "  … and 5 more" in lines
    assert sum(line.startswith("vehicle ") for line in lines) == 1
    assert sum(line.startswith("vehicle1") for line in lines) == 11


def test_names_cannot_steer_the_terminal(screen: Callable[[FabricatedStore], list[str]]) -> None:
    """Control characters are shown as text."""
    store = a_fleet("he\x1b[31mron")
    service(store, "he\x1b[31mron", "overdue", remaining_days=-3)
    assert not any("\x1b" in line for line in screen(store))
