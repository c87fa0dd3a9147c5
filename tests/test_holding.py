"""A falling string is told from chance, from a glide and from one that was retuned."""

import numpy as np
import pytest

from analyzer.holding import Reading, fall
from analyzer.settings import ChangeSettings, HoldingSettings

SETTINGS = HoldingSettings()
REPLUCK = ChangeSettings().repluck_cents


def readings(*cents, u95=0.5, levels_db=None):
    levels_db = levels_db or [None] * len(cents)
    return [
        Reading(pitch_hz=196.0 * 2 ** (c / 1200), cents_u95=u95, level_db=level)
        for c, level in zip(cents, levels_db, strict=True)
    ]


def test_a_fall_is_found_with_its_size():
    found = fall(readings(0.0, -4.0, -9.0), REPLUCK, SETTINGS)
    assert found.cents == pytest.approx(9.0)
    assert found.plucks_n == 3
    assert found.u95_cents == pytest.approx(np.sqrt(2 * 0.5**2 + REPLUCK**2))


@pytest.mark.parametrize(
    "cents",
    [(0.0,), (0.0, -2.0), (0.0, 9.0), (0.0, -1300.0), (0.0, 12.0, -9.0), (0.0, -20.0, -9.0)],
    ids=["once", "chance", "rise", "another string", "up, then down", "down, then up"],
)
def test_what_is_no_fall(cents):
    assert fall(readings(*cents), REPLUCK, SETTINGS) is None


def test_a_louder_first_pluck_explains_some():
    assert fall(readings(0.0, -6.0, levels_db=[-20.0, -20.0]), REPLUCK, SETTINGS)
    assert fall(readings(0.0, -6.0, levels_db=[-10.0, -20.0]), REPLUCK, SETTINGS) is None
    assert fall(readings(0.0, -6.0, levels_db=[-20.0, -10.0]), REPLUCK, SETTINGS)


def test_two_recorders_clocks_widen_it():
    assert fall(readings(0.0, -5.0), REPLUCK, SETTINGS)
    assert fall(readings(0.0, -5.0), REPLUCK, SETTINGS, clocks_u95_cents=3.0) is None


def test_strings_that_hold_are_seldom_called():
    """Scatter of plucks and of measurements, each as large as its stated interval."""
    rng = np.random.default_rng(1)
    called = 0
    for _ in range(4000):
        own = rng.normal(0, (REPLUCK / 1.96) / np.sqrt(2), 2) + rng.normal(0, 0.5 / 1.96, 2)
        called += fall(readings(*own), REPLUCK, SETTINGS) is not None
    assert called <= 20
