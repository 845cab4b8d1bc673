"""Colours: they can be told from the page, in both themes."""

from __future__ import annotations

import pytest

from ridelab.report.palette import PALETTE, style_sheet

TEXT_ROLES = ("ink", "quiet", "measured", "published", "departs", "holds", "doubt")
MARK_ROLES = (*TEXT_ROLES, "idle")


def luminance(colour: str) -> float:
    """Return the relative luminance as WCAG 2.2 defines it."""
    parts = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio as WCAG 2.2 defines it."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_is_that_of_the_standard() -> None:
    """Black on white is 21 to 1, as WCAG 2.2 says."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("theme", [0, 1])
@pytest.mark.parametrize("ground", ["page", "raised"])
@pytest.mark.parametrize("role", TEXT_ROLES)
def test_text_can_be_read(role: str, ground: str, theme: int) -> None:
    """WCAG 2.2, criterion 1.4.3 (AA): 4.5 to 1."""
    assert contrast(PALETTE[role][theme], PALETTE[ground][theme]) >= 4.5


@pytest.mark.parametrize("theme", [0, 1])
@pytest.mark.parametrize("role", MARK_ROLES)
def test_marks_can_be_seen(role: str, theme: int) -> None:
    """WCAG 2.2, criterion 1.4.11 (AA): 3 to 1."""
    assert contrast(PALETTE[role][theme], PALETTE["page"][theme]) >= 3


def test_each_light_colour_has_one_dark_partner() -> None:
    """The style sheet finds the partner by the light colour, so no two roles may share one."""
    assert len({light for light, _ in PALETTE.values()}) == len(PALETTE)
    sheet = style_sheet()
    assert all(f'[fill="{light}"]{{fill:{dark}}}' in sheet for light, dark in PALETTE.values())
