"""False strings: those whose partials beat more than this harp's strings do, or lie off the stiff-string law.

Task. From the beats of all counted plucks (`beating`) and how far their partials lie off the law: the probability that
a string is false, and the figures behind it.

Method. All real strings beat a little: two planes of vibration, coupled to the soundboard unequally. What counts is the
string's own split: the largest group of partials whose two tones are equally far apart in cents (an uneven string's
planes differ in proportion), or the lowest alone where the others would beat too fast to be told. It is compared with
what is usual on this harp. A group that one other string's partials explain, just that rate away, may be that string
answering (Le Carrou, Gautier & Badeau, Acta Acustica 95 (2009) 744): that cannot be told unless the others are damped,
and counts for much less. Partials off the law count a little.

Conventions. Splits in cents. Log-odds are natural; the base rate is stated in the settings.

Known limits. No published threshold exists. Beats that differ from partial to partial are several strings or planes
answering, and are no evidence of a false string. Strings heard briefly are judged by fast beats only.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.beating import CENTS, Beat, Beating
from analyzer.settings import FalseSettings

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardBeats:
    """What is known of one string's counted pluck."""

    pitch_hz: float
    inharmonicity: float | None
    law_scatter_cents: float | None
    """How far its partials lie off the stiff-string law."""
    beating: Beating


@dataclass(frozen=True, slots=True, kw_only=True)
class Falseness:
    """The judgement of one string."""

    false_probability: float | None
    split_cents: float | None
    """How far apart the two tones of its partials are; None where `beats` is empty."""
    usual_cents: float
    """What is usual on this harp at this pitch."""
    beats: tuple[Beat, ...]
    """The partials that agree; a single one where the others would beat too fast to be told."""
    answering: int | None
    """Index (into the strings judged) of another string that would explain the beats."""
    off_law: float | None
    """Scatter of its partials off the law over what is usual on this harp; None where not measured."""
    reason: str
    """Why it is not judged; empty where it is."""


def judge(strings: tuple[HeardBeats, ...], settings: FalseSettings) -> tuple[Falseness, ...]:
    """Judge all heard strings of one harp together; the order of the result is that of `strings`."""
    s = settings
    groups = [_agreeing(h.beating.beats, s) or _alone(h.beating, s) for h in strings]
    usual = max(float(np.median([_split(g) if g else 0.0 for g in groups] or [0.0])), s.usual_least_cents)
    scatters = [h.law_scatter_cents for h in strings if h.law_scatter_cents is not None]
    usual_scatter = max(float(np.median(scatters)) if scatters else 0.0, s.law_least_cents)
    out = []
    for k, (heard, group) in enumerate(zip(strings, groups, strict=True)):
        off_law = None if heard.law_scatter_cents is None else heard.law_scatter_cents / usual_scatter
        answering = _answering(k, group, strings, s) if group else None
        judged = len(heard.beating.followed) >= s.least_followed
        usual_here = max(usual, CENTS * float(np.log1p(s.usual_least_hz / heard.pitch_hz)))
        out.append(
            Falseness(
                false_probability=_probability(group, usual_here, answering, off_law, s) if judged else None,
                split_cents=_split(group) if group else None,
                usual_cents=usual_here,
                beats=group,
                answering=answering,
                off_law=off_law,
                reason="" if judged else "too few of its partials rang long enough for a beat to show",
            )
        )
    return tuple(out)


def _split(group: tuple[Beat, ...]) -> float:
    return float(np.median([b.split_cents for b in group]))


def _agreeing(beats: tuple[Beat, ...], s: FalseSettings) -> tuple[Beat, ...]:
    """The largest group of at least two clear beats that are equally far apart in cents; of equals the stronger."""
    clear = [b for b in beats if b.weaker_db >= s.clear_db]
    best: tuple[Beat, ...] = ()
    for middle in clear:
        group = tuple(
            b for b in clear if abs(np.log(b.split_cents / middle.split_cents)) < s.agree + b.rate_u95_hz / b.rate_hz
        )
        if len(group) >= 2 and (len(group), _level(group)) > (len(best), _level(best)):
            best = group
    return best


def _alone(beating: Beating, s: FalseSettings) -> tuple[Beat, ...]:
    """The clear beat of the lowest partial that was followed, where the others' would be too fast to be told."""
    if len(beating.followed) < 2:
        return ()
    lowest, next_one = beating.followed[:2]
    return tuple(
        b
        for b in beating.beats
        if b.number == lowest
        and b.weaker_db >= s.clear_db
        and b.split_cents < s.most_alone_cents
        and b.rate_hz / b.number * next_one > beating.most_hz
    )


def _level(group: tuple[Beat, ...]) -> float:
    return sum(10 ** (b.weaker_db / 20) for b in group)


def _answering(k: int, group: tuple[Beat, ...], strings: tuple[HeardBeats, ...], s: FalseSettings) -> int | None:
    """The string whose partials lie one beat's rate from all partials of the group, if there is one."""
    for j, other in enumerate(strings):
        if j == k:
            continue
        b = other.inharmonicity or 0.0
        n = np.arange(1, s.answering_partials + 1)
        theirs = other.pitch_hz * n * np.sqrt((1 + b * n**2) / (1 + b))
        if all(
            np.any(np.abs(np.abs(theirs - beat.frequency_hz) - beat.rate_hz) < s.same_hz + beat.rate_u95_hz)
            for beat in group
        ):
            return j
    return None


def _probability(
    group: tuple[Beat, ...], usual_cents: float, answering: int | None, off_law: float | None, s: FalseSettings
) -> float:
    odds = float(np.log(s.base_rate / (1 - s.base_rate)))
    if group:
        above = np.log(_split(group) / usual_cents) / s.split_scatter - s.split_margin
        evidence = s.partial_worth * min(len(group), s.most_worth) * float(np.clip(above, -1.0, s.most_above))
        odds += evidence * (s.answering_worth if answering is not None and evidence > 0 else 1.0)
    else:
        odds -= s.none_worth
    if off_law is not None and off_law > s.off_law:
        odds += s.law_worth
    return float(1 / (1 + np.exp(-odds)))
