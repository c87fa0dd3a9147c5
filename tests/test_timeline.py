"""What may be said of a harp's settling, and what not."""

import math
from datetime import date

import numpy as np
import pytest

from analyzer.report.compare_page import BOX, drift
from analyzer.settings import SettlingSettings
from analyzer.timeline import course
from tests.survey_moves import moved, plain

QUICK = SettlingSettings(particles_n=64, moves_n=1, last_moves_n=4, draws_each_n=4)


def brought_up_by_steps(scatter_cents=(25.0, 12.0, 4.0), days=(1, 8, 15)):
    """A harp tuned before every survey, each time left nearer to its notes: no survey shows what it does by itself."""
    rng = np.random.default_rng(7)
    return [
        moved(plain(), lambda i, row, s=s: -s + rng.normal(0, s), date=date(2026, 3, day).isoformat())
        for s, day in zip(scatter_cents, days, strict=True)
    ]


def left_alone():
    """As one tuned once, that creeps by the logarithm of time."""
    return [
        moved(
            plain(),
            lambda i, row, d=d: -6.0 * (0.7 + 0.03 * i) * math.log1p(d / 0.5),
            date=date(2026, 3, 1 + d).isoformat(),
        )
        for d in (0, 2, 9)
    ]


def test_where_every_interval_holds_a_retuning_nothing_is_claimed_of_settling():
    way = course(brought_up_by_steps(), settings=QUICK)
    assert (way.settling, way.settled_date, way.tune_every_days) == (None, "", None)
    said = " ".join(way.sentences)
    assert "two surveys of different days without any tuning in between" in said
    assert not any(word in said for word in ("settled since", "95 of 100", "law"))


def test_a_day_of_tuning_that_was_stated_leaves_what_came_after_it():
    retuned = [date(2026, 3, 3), date(2026, 3, 10)]
    assert course(brought_up_by_steps(), retuned, settings=QUICK).settling is not None


def test_the_drawing_of_the_drift_has_a_scale_in_cents():
    way = course(left_alone(), settings=QUICK)
    drawn = drift(way)
    assert len(drawn.ticks) >= 3
    cents = [float(text.replace("−", "-")) for _, text in drawn.ticks]
    heights = [y for y, _ in drawn.ticks]
    assert 0.0 in cents  # where every string starts
    slope, offset = np.polyfit(cents, heights, 1)
    assert np.allclose(np.polyval((slope, offset), cents), heights)
    assert all(0 <= y <= BOX[1] for y in heights)
    falls = {s.string: abs(np.ptp(row)) for s, row in zip(way.settling.strings, way.settling.fitted_cents, strict=True)}
    (named,) = (curve.name for curve in drawn.curves if curve.name and not curve.slipping)
    assert falls[named] == pytest.approx(np.nanmax(list(falls.values())))
    fitted = way.settling.fitted_cents[0]
    end = float(drawn.curves[0].points.split()[-1].split(",")[1])
    assert end == np.round(slope * (fitted[-1] - fitted[0]) + offset, 1)
