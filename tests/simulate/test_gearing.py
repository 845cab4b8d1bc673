"""The settings of a drivetrain and the way through them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.drivetrain.ladder import published_ladder
from ridelab.drivetrain.stages import Drivetrain, epicyclic, from_ratios, from_teeth, stepless
from ridelab.simulate import Gears, Stepless, from_drivetrain
from ridelab.simulate import from_ratios as lever_over
from tests.simulate.rides import DOUBLE, FOURTEEN


def gears_of(drivetrain: Drivetrain, as_built: Drivetrain | None = None) -> Gears:
    """The gears, which are not stepless."""
    gears = from_drivetrain(drivetrain, as_built)
    assert isinstance(gears, Gears)
    return gears


@given(st.lists(st.floats(0.1, 10.0), min_size=1, max_size=20, unique=True).map(sorted))
def test_one_lever_goes_through_all_gears(ratios: list[float]) -> None:
    """Up from the lowest passes every gear, and down from the highest comes back."""
    gears = lever_over(ratios)
    assert gears.path == tuple(range(len(ratios)))
    assert gears.down[0] == 0
    assert all(gears.down[gears.up[i]] == i for i in range(len(ratios) - 1))


def test_settings_stand_on_the_published_ladder() -> None:
    """Every setting bears the number of the gear that its ratio belongs to."""
    ladder = published_ladder(DOUBLE)
    for setting in gears_of(DOUBLE).settings:
        assert setting.ratio == pytest.approx(setting.front_teeth / setting.rear_teeth)
        gear = ladder.gears[setting.gear - 1]
        assert any(setting.ratio == pytest.approx(member) for member in gear.members)


def test_two_chainrings_are_ridden_without_crossing_the_chain() -> None:
    """The way up rises all along, changes the chainring once, and leaves out crossed chains."""
    gears = gears_of(DOUBLE)
    way = [gears.settings[i] for i in gears.path]
    ratios = [setting.ratio for setting in way]
    assert ratios == sorted(ratios)
    assert [setting.front for setting in way] == sorted(setting.front for setting in way)
    pairs = {(setting.front_teeth, setting.rear_teeth) for setting in way}
    assert (24, 36) in pairs
    assert (38, 11) in pairs
    assert not pairs & {(24, 11), (24, 13), (38, 36), (38, 30)}


def test_the_way_down_also_reaches_the_lowest() -> None:
    """From any setting, going down ends in the lowest gear."""
    gears = gears_of(DOUBLE)
    for start in range(len(gears.settings)):
        at = start
        for _ in gears.settings:
            at = gears.down[at]
        assert at == 0


def test_two_shifted_stages_have_two_levers() -> None:
    """Two chainrings before a three-speed hub: six settings in two rows."""
    both = Drivetrain("both", (from_teeth("chain", (30, 44), (16,)), epicyclic("hub", 20, 60)))
    gears = gears_of(both)
    assert {setting.front for setting in gears.settings} == {1, 2}
    assert {setting.rear for setting in gears.settings} == {1, 2, 3}
    assert gears.settings[0].ratio == pytest.approx(30 / 16 * 0.75)


def test_as_built_keeps_the_published_numbers() -> None:
    """A gear that is built otherwise keeps its number and gets its real ratio."""
    sheet = Drivetrain("three", (from_ratios("hub", (0.75, 1.0, 1.33)),))
    built = Drivetrain("three", (from_ratios("hub", (0.80, 1.0, 1.33)),))
    settings = gears_of(sheet, built).settings
    assert [setting.gear for setting in settings] == [1, 2, 3]
    assert settings[0].ratio == 0.80


def test_as_built_with_other_levers_is_refused() -> None:
    """Fourteen gears cannot stand for three."""
    sheet = Drivetrain("three", (from_ratios("hub", (0.75, 1.0, 1.33)),))
    with pytest.raises(ValueError, match="as built"):
        from_drivetrain(sheet, FOURTEEN)


def test_stepless_has_two_ends() -> None:
    """Chain times hub, at either end."""
    drivetrain = Drivetrain("s", (from_teeth("chain", (46,), (20,)), stepless("hub", 0.5, 1.9)))
    found = from_drivetrain(drivetrain)
    assert isinstance(found, Stepless)
    assert (found.lowest, found.highest) == pytest.approx((1.15, 4.37))
