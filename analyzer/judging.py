"""All strings of one harp judged together, from the plucks that were chosen for them.

Composition only: `condition` judges damping, `falseness` beats, `holding` pitches that
fall, `loss` the harp as a whole.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analyzer import falseness
from analyzer.by_eye import Seen
from analyzer.condition import Condition, Heard, judge
from analyzer.falseness import Falseness, HeardBeats
from analyzer.hearing import HeardPluck, Hearing
from analyzer.holding import Fall, Reading, fall
from analyzer.loss import Loss, Rung, against, fit_law, whole_damping
from analyzer.rattle import Rattle
from analyzer.request import Request
from analyzer.settings import Settings
from analyzer.survey import StringRow, Survey
from analyzer.verdicts import whole_sentences


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The pluck that counts for a string, and the others of the same string."""

    part: int
    heard: HeardPluck
    others: tuple[HeardPluck, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What is judged of one string; None where it could not be."""

    condition: Condition | None
    falseness: Falseness | None
    fall: Fall | None
    rattle: Rattle | None
    """Only where there is one."""
    loss: Loss | None


def judge_strings(
    chosen: Mapping[int, Chosen], hearings: Sequence[Hearing], request: Request, settings: Settings
) -> dict[int, Judged]:
    """Every chosen string's judgement, by its index in the layout."""
    conditions = _conditions(chosen, request, settings)
    beaten = _beats(chosen, settings)
    falls = _falls(hearings, settings)
    return {
        k: Judged(
            condition=conditions.get(k),
            falseness=beaten.get(k),
            fall=falls.get(k),
            rattle=_rattle(chosen[k], hearings[chosen[k].part], beaten.get(k), settings),
            loss=fit_law(decay.partials, settings.loss) if (decay := chosen[k].heard.decay) else None,
        )
        for k in sorted(chosen)
    }


def _rattle(chosen: Chosen, hearing: Hearing, beaten: Falseness | None, settings: Settings) -> Rattle | None:
    """The rattle of the counted pluck; none where beats, all partials' at once, may have made it, or a recorder that
    cut the sound off: what that adds is high too, in step with the string, and stops once it swings less."""
    rattle = chosen.heard.rattle
    if rattle is None or not rattle.heard(settings.rattle):
        return None
    onset_s = chosen.heard.pluck.onset_s
    first_s, last_s = onset_s - settings.recording.clip_place_s, onset_s + rattle.stopped_s
    cut_off = any(first_s <= at_s <= last_s for at_s in hearing.info.clipped_at_s)
    beats = ((beaten.false_probability if beaten else None) or 0.0) >= settings.falseness.check_false
    return None if beats or cut_off else rattle


def seen(row: StringRow, judged: Judged | None, settings: Settings) -> Seen:
    """What a string's row and judgement give as reasons to look at it."""
    off_law = judged.falseness.off_law if judged and judged.falseness else None
    return Seen(
        string=row.string,
        missing=row.status == "not heard",
        far_low=far_low(row.cents, settings),
        falls=judged is not None and judged.fall is not None,
        dull=bool(row.dull),
        false=(row.false_probability or 0.0) >= settings.falseness.check_false,
        rattles=judged is not None and judged.rattle is not None,
        off_law=off_law is not None and off_law > settings.falseness.off_law,
    )


def far_low(cents: float | None, settings: Settings) -> bool:
    """Whether a string may be an octave low or the wrong one."""
    return cents is not None and cents < settings.survey.far_low_cents


def _conditions(chosen: Mapping[int, Chosen], request: Request, settings: Settings) -> dict[int, Condition]:
    places = [k for k in sorted(chosen) if chosen[k].heard.decay is not None]
    heard = tuple(
        Heard(
            place=k,
            section=request.layout.strings[k].material,
            decay=decay,
            repeats=tuple(p.decay for p in chosen[k].others if p.decay is not None and not p.slip),
        )
        for k in places
        if (decay := chosen[k].heard.decay) is not None
    )
    return dict(zip(places, judge(heard, settings.condition), strict=True))


def _beats(chosen: Mapping[int, Chosen], settings: Settings) -> dict[int, Falseness]:
    heard = {
        k: HeardBeats(
            pitch_hz=pitch.pitch_hz,
            inharmonicity=pitch.inharmonicity,
            law_scatter_cents=pitch.law_scatter_cents,
            beating=beating,
        )
        for k, c in sorted(chosen.items())
        if (pitch := c.heard.pitch) is not None and (beating := c.heard.beating) is not None
    }
    return dict(zip(heard, falseness.judge(tuple(heard.values()), settings.falseness), strict=True))


def _falls(hearings: Sequence[Hearing], settings: Settings) -> dict[int, Fall]:
    """Strings whose pitch fell from pluck to pluck of one recording."""
    s, out = settings.survey, {}
    for h in hearings:
        readings: dict[int, list[Reading]] = {}
        for p in h.plucks:
            if (
                p.string is not None
                and p.pitch is not None
                and p.confidence >= s.sure
                and p.usable_s >= s.least_usable_s
            ):
                reading = Reading(pitch_hz=p.pitch.pitch_hz, cents_u95=p.pitch.cents_u95, level_db=p.pluck.level_db)
                readings.setdefault(p.string, []).append(reading)
        for k, mine in readings.items():
            if (fallen := fall(mine, settings.changes.repluck_cents, settings.holding)) is not None:
                out[k] = fallen
    return out


def whole_remarks(
    chosen: Mapping[int, Chosen],
    judged: Mapping[int, Judged],
    hearings: Sequence[Hearing],
    request: Request,
    settings: Settings,
) -> tuple[str, ...]:
    """What the damping of all strings says of the harp, against physics and a reference."""
    heard = {
        k: (c.heard.pitch.pitch_hz, c.heard.decay.partials)
        for k, c in chosen.items()
        if c.heard.pitch is not None and c.heard.decay is not None
    }
    compared = None
    if request.reference_survey is not None:
        rungs = [(hz, {p.number: p.t60_s for p in partials}) for hz, partials in heard.values()]
        compared = against(rungs, _rungs(request.reference_survey), settings.loss)
    return whole_sentences(
        whole_damping([j.loss for j in judged.values()], settings.loss),
        compared,
        request.reference_survey,
        [request.tuning.targets[k].string for k in heard],
        any(h.info.automatic_gain for h in hearings),
        settings,
    )


def _rungs(survey: Survey) -> list[Rung]:
    """The strings of a survey with the decays of their partials."""
    return [
        (row.pitch_hz, {p.number: p.t60_s for p in row.partials if p.t60_s is not None})
        for row in survey.strings
        if row.pitch_hz is not None and row.status == "heard"
    ]
