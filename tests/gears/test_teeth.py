"""The fit of whole teeth itself: it finds teeth where there are some and nothing elsewhere."""

from __future__ import annotations

import pytest

from tests.gears.teeth import by_chance, fit_teeth

CASSETTE = (25, 23, 21, 19, 17, 16, 15, 14, 13, 12)


def test_a_chain_drive_is_recognised() -> None:
    """Exact developments of one chainring and ten sprockets fit to 0.05 %, half the grid's step."""
    fitted = fit_teeth([2.1 * 50 / teeth for teeth in CASSETTE])
    assert fitted is not None
    assert fitted.rms < 0.0005
    assert tuple(sprocket for _, sprocket in fitted.gears) == CASSETTE


def test_a_measured_ladder_stands_out_from_chance() -> None:
    """Teeth measured to 0.3 % fit several times better than random ladders do."""
    wrong = (1.003, 0.998, 1.0, 1.002, 0.997, 1.001, 1.0, 0.999, 1.003, 0.998)
    developments = [2.1 * 50 / t * w for t, w in zip(CASSETTE, wrong, strict=True)]
    fitted = fit_teeth(developments)
    assert fitted is not None
    assert fitted.rms < 0.4 * by_chance(developments)


@pytest.mark.parametrize("chainrings", [1, 2])
def test_what_no_chain_drive_can_be_is_refused(chainrings: int) -> None:
    """Forty gears within 20 % of each other are more than there are sprockets between."""
    crowd = [5.0 * 1.2 ** (i / 40) for i in range(40)]
    assert fit_teeth(crowd, chainrings) is None
