"""What may be said of a harp's settling, and what not."""

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from analyzer.report.compare_page import BOX, drift
from analyzer.settings import SettlingSettings
from analyzer.timeline import course
from tests.survey_moves import NOT_HEARD, moved, plain, with_rows

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


def test_surveys_that_share_no_string_say_nothing_of_settling():
    sources = [
        with_rows(
            replace(plain(), date=day),
            {row.string: NOT_HEARD for i, row in enumerate(plain().strings) if i % 3 != k},
        )
        for k, day in enumerate(("2026-03-01", "2026-03-05", "2026-03-12"))
    ]
    found = course(sources)
    assert found.settling is None
    assert found.sentences[0].startswith("Hardly a string was heard for sure in two of these surveys")


def test_a_record_of_years_shows_a_creep_without_an_end_as_one():
    rng = np.random.default_rng(3)
    surveys = [
        moved(
            plain(),
            lambda i, row, d=d: -(4.0 + 0.1 * i) * math.log1p(d / 2.0) + rng.normal(0.0, 0.8),
            date=(date(2026, 1, 1) + timedelta(days=d)).isoformat(),
        )
        for d in (0, 10, 100, 400, 700, 900)
    ]
    assert course(surveys, settings=QUICK).settling.law == "logarithmic"


def test_no_law_is_told_of_a_harp_that_cannot_be_shown_to_creep():
    rng = np.random.default_rng(0)
    still = [
        moved(plain(), lambda i, _: rng.normal(0.0, 0.8), date=date(2026, 3, day).isoformat()) for day in (1, 6, 21)
    ]
    assert "Its creep" not in " ".join(course(still, settings=QUICK).sentences)
    assert "Its creep" in " ".join(course(left_alone(), settings=QUICK).sentences)


def test_a_harp_that_falls_by_more_in_a_day_is_not_said_to_hold_for_one():
    rng = np.random.default_rng(1)
    falling = [
        moved(plain(), lambda i, _, k=k: -20.0 * k + rng.normal(0.0, 0.8), date=date(2026, 3, 1 + k).isoformat())
        for k in range(3)
    ]
    said = " ".join(course(falling, settings=QUICK).sentences)
    assert "within 5 cents for less than a day by its own drift: tune it daily" in said
