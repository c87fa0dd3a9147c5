"""Partials that beat: two close tones where a sound string has one, how far apart and how strong.

Task. A false string (uneven, kinked, a winding come loose) vibrates at slightly different frequencies in different
planes; so does, less, a sound one; and a neighbour's string may answer. From one pluck: for each partial the rate of
its beat, with its interval, and the level of the weaker tone.

Method. The power of two decaying tones is fitted to the power in a narrow band (`beat_fit`). The power knows nothing of
a glide that both tones share, which the phase does. A beat counts where it leaves much less misfit than a straight
decay does; partials of one pluck that agree make each other surer (`beat_law`). All partials of all plucks are fitted
together, for speed.

Conventions. Rates in Hz, levels of the weaker tone against the stronger in dB, splits in cents of the partial.

Known limits. Rates slower than about 0.7 of a turn in the time heard cannot be told from a bent decay; faster ones than
`most_hz` would take more bandwidth than neighbouring partials leave. A third tone is taken for misfit, which two tones
can bend to: intervals then hold the truth nine times in ten (`tests/bench/beats.py`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np

from analyzer.bands import PluckBands
from analyzer.beat_fit import Course, Fitted, fit_beats
from analyzer.beat_law import weighed
from analyzer.settings import FalseSettings

CENTS = 1200 / np.log(2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """The beat of one partial."""

    number: int
    frequency_hz: float
    rate_hz: float
    rate_u95_hz: float
    weaker_db: float
    """Level of the weaker tone against the stronger, at the settled onset."""

    @property
    def split_cents(self) -> float:
        """How far apart the two tones are."""
        return float(CENTS * np.log1p(self.rate_hz / self.frequency_hz))


@dataclass(frozen=True, slots=True, kw_only=True)
class Beating:
    """What one pluck shows of beats."""

    followed: tuple[int, ...]
    """Numbers of the partials that could be followed long and clearly enough for a beat to show."""
    beats: tuple[Beat, ...]
    most_hz: float
    """No beat faster than this could be told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Followed:
    """The partials of one pluck that could be followed, before their beats are known."""

    numbers: tuple[int, ...]
    frequencies_hz: tuple[float, ...]
    courses: tuple[Course, ...]


def follow(bands: PluckBands, partials_hz: tuple[float, ...], end_s: float, settings: FalseSettings) -> Followed:
    """Follow the power of the partials 1, 2, … at `partials_hz`; `end_s` from the onset, where the pluck stops."""
    s = settings
    span = (s.settled_s, end_s - s.guard_s)
    looked_at = np.array(partials_hz[: s.partials])
    if len(looked_at) == 0:
        return Followed(numbers=(), frequencies_hz=(), courses=())
    half_hz = float(np.clip(s.band_share * partials_hz[0], s.band_least_hz, s.band_most_hz))
    times_s, powers = bands.powers(looked_at, half_hz)
    lo, hi = np.searchsorted(times_s, span)
    noises = bands.noise_powers(looked_at, half_hz, partials_hz[0] / 2, span)
    step_s = float(times_s[1] - times_s[0]) * s.every
    courses = {}
    for number, power, noise in zip(range(1, len(looked_at) + 1), powers[:, lo:hi], noises.tolist(), strict=True):
        clear = np.flatnonzero(power > s.clear_power * noise)
        course = power[: int(clear[-1]) + 1 if len(clear) else 0 : s.every]
        if len(course) >= s.least_values and (len(course) - 1) * step_s >= s.least_s:
            most_hz = min(s.most_hz, s.most_share * half_hz)
            courses[number] = Course(power=course.copy(), step_s=step_s, noise=noise, most_hz=most_hz)
    return Followed(
        numbers=tuple(courses),
        frequencies_hz=tuple(partials_hz[n - 1] for n in courses),
        courses=tuple(courses.values()),
    )


def find_beats(plucks: Sequence[Followed], settings: FalseSettings) -> tuple[Beating, ...]:
    """The beats of each pluck."""
    fitted = iter(fit_beats([course for pluck in plucks for course in pluck.courses], settings))
    return tuple(
        Beating(
            followed=pluck.numbers,
            beats=_together(pluck, tuple(islice(fitted, len(pluck.numbers))), settings),
            most_hz=max((course.most_hz for course in pluck.courses), default=0.0),
        )
        for pluck in plucks
    )


def _together(pluck: Followed, fitted: tuple[Fitted | None, ...], s: FalseSettings) -> tuple[Beat, ...]:
    """The beats that are known well enough once all partials of the pluck are weighed together."""
    rows = [
        (number, hz, found)
        for number, hz, found in zip(pluck.numbers, pluck.frequencies_hz, fitted, strict=True)
        if found is not None
    ]
    rates_hz, u95_hz = weighed(
        [hz for _, hz, _ in rows], [f.rate_hz for _, _, f in rows], [f.rate_u95_hz for _, _, f in rows], s
    )
    return tuple(
        Beat(number=number, frequency_hz=hz, rate_hz=rate_hz, rate_u95_hz=u95, weaker_db=found.weaker_db)
        for (number, hz, found), rate_hz, u95 in zip(rows, rates_hz.tolist(), u95_hz.tolist(), strict=True)
        if u95 < s.most_u95_hz
    )
