"""Retunings that nobody named: the whole harp brought back to its notes between two surveys.

Task: readings -> the tunings of the whole harp, those named and those found.

Method. What is suspected (`tunings.suspected`) is weighed: the evidence of the model of creep with that tuning against
without it, all strings together, the tuning done just after the survey before or just before the survey after. The
likeliest is taken if its odds are high enough, and the rest weighed again with it. That no string comes to its note by
chance costs the wrong suspicion dear, so that errors are rare (`tests/bench/settling`).

Known limits: a harp that had fallen by less than strings are left apart by a tuner shows no tuning, nor needs one.
"""

from collections.abc import Sequence

import numpy as np

from analyzer.creep import any_law
from analyzer.forecast import sampled
from analyzer.settings import SettlingSettings
from analyzer.tunings import Readings, Tuning, arranged, stated, suspected


def tunings(readings: Readings, settings: SettlingSettings) -> tuple[Tuning, ...]:
    """The retunings of the whole harp, stated or found, in order of time."""
    found = _placed(readings, settings)
    places = [m for m in suspected(readings, settings) if m not in {t.survey for t in found}]
    places = places[: settings.suspected_most_n]
    if not places:
        return found
    without = _evidence(readings, found, settings)
    while places:
        weighed = [
            (_evidence(readings, (*found, tuning), settings), tuning)
            for m in places
            for tuning in (Tuning(survey=m, day=float(readings.days[k])) for k in (m - 1, m))
        ]
        likeliest, tuning = max(weighed, key=lambda pair: pair[0])
        if likeliest - without < settings.retuned_odds:
            break
        found, without = (*found, tuning), likeliest
        places.remove(tuning.survey)
    return tuple(sorted(found, key=lambda t: t.survey))


def _placed(readings: Readings, settings: SettlingSettings) -> tuple[Tuning, ...]:
    """The stated ones; one on the day of a survey comes before or after it, whichever is likelier."""
    found = list(stated(readings))
    for k, tuning in enumerate(found):
        same = np.flatnonzero(readings.days == tuning.day)
        others = {int(m) for m in (*same[:1], *(same[-1:] + 1))} - {t.survey for t in found}
        for m in (m for m in others if 0 < m < len(readings.days)):
            moved = [*found[:k], Tuning(survey=m, day=tuning.day), *found[k + 1 :]]
            if _evidence(readings, moved, settings) > _evidence(readings, found, settings):
                found = moved
    return tuple(found)


def _evidence(readings: Readings, found: Sequence[Tuning], settings: SettlingSettings) -> float:
    block, _ = arranged(readings, found, settings)
    return sampled(block, any_law(settings), settings, particles_n=settings.weighing_particles_n, moves_n=1, last_n=0)[
        1
    ]
