"""One harp's recordings in, one Survey out: composition only, reads like the flow.

`hearing` gives each recording's plucks with their strings, pitches and decays; here one pluck is chosen for each
string, all strings are judged together (`condition`, `doubts`), and the rows of the survey are filled.
"""

from collections.abc import Callable, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from analyzer.by_eye import look_list
from analyzer.doubts import WholeHarp, other_layout, unsaid_key, whole_harp
from analyzer.errors import TooLittleHarp
from analyzer.faint import faint_places
from analyzer.hearing import HeardPluck, Hearing, hear
from analyzer.judging import Chosen, Judged, far_low, judge_strings, seen, whole_remarks
from analyzer.remarks import contradictions, pluck_reason, string_remarks
from analyzer.request import Request
from analyzer.settings import Settings
from analyzer.survey import SCHEMA, Doubt, PartialRow, PluckRow, Status, StringRow, Survey
from analyzer.verdicts import evidence, rattle_sentences, verdict
from analyzer.version import VERSION, library_versions


def analyze(request: Request, settings: Settings, tell: Callable[[str], None] = lambda _: None) -> Survey:
    """Survey one harp. `tell` is told, in words, which step is being taken.

    Raises UnusableInput for a recording that cannot be used and TooLittleHarp where too few strings are in it: of a
    few strings recorded once more, which the person named, any number will do if most are clear.
    """
    hearings = []
    for part, path in enumerate(request.recordings):
        tell(f"listening to {path.name}")
        hearings.append(hear(path, request, part, settings))
    chosen = _choose(hearings, len(request.layout.strings), settings)
    clear = sum(_clear(c, settings) for c in chosen.values())
    named = request.only is not None or (request.first is not None and request.last is not None)
    few = named and clear >= max(1, settings.survey.few_share * len(chosen))
    if not few and clear < settings.survey.least_strings:
        raise TooLittleHarp(_too_little(hearings, clear, request))
    tell("judging the strings")
    judged = judge_strings(chosen, hearings, request, settings)
    names = [request.tuning.targets[k].string for k, j in judged.items() if j.falseness is not None]
    cents = {k: _cents(c, request, k) for k, c in chosen.items()}
    measured = [k for k in sorted(chosen) if cents[k] is not None]
    whole = whole_harp(
        np.array(measured, dtype=float),
        np.array([cents[k] for k in measured], dtype=float),
        request.layout,
        request.tuning,
        settings.doubts,
    )
    tapped = [max(float(h.matching.tapped[:, k].sum()) for h in hearings) for k in range(len(request.layout.strings))]
    faint = _faint(hearings, chosen, tapped, request, settings)
    strings = tuple(
        _string_row(
            k,
            request,
            chosen.get(k),
            judged.get(k),
            names,
            cents.get(k),
            whole,
            tapped[k],
            faint.get(k),
            _taken(k, hearings, request),
            settings,
        )
        for k in range(len(request.layout.strings))
    )
    orders = [h.matching for h in hearings if h.plucks]
    return Survey(
        schema=SCHEMA,
        program_version=VERSION,
        title=request.title,
        date=request.date,
        made_at=request.made_at,
        recordings=tuple(h.info for h in hearings),
        layout=request.layout,
        tuning=request.tuning,
        said=request.said,
        order=orders[0].order,
        order_confidence=min(m.order_confidence for m in orders),
        strings=strings,
        plucks=_pluck_rows(hearings, chosen, request, settings),
        doubts=_doubts(hearings, whole, list(cents.values()), request, settings),
        remarks=(
            *whole.remarks,
            *contradictions(
                request, hearings, [t.string for k, t in enumerate(request.tuning.targets) if k not in chosen], settings
            ),
            *whole_remarks(chosen, judged, hearings, request, settings),
        ),
        a4_that_fits_hz=whole.a4_that_fits_hz,
        clock_u95_cents=_clock_u95_cents(hearings, settings),
        settings=_plain(settings),
        libraries=library_versions(),
        by_eye=look_list(
            request.layout,
            [seen(row, judged.get(k), settings) for k, row in enumerate(strings)],
        ),
    )


def _clock_u95_cents(hearings: list[Hearing], settings: Settings) -> float:
    """What the recorders' clocks leave open: a reference tone's own interval where every recording had one."""
    read = [h.reference.u95_cents if h.reference else None for h in hearings]
    return max(settings.survey.clock_u95_cents if u95 is None else u95 for u95 in read)


def _doubts(
    hearings: list[Hearing], whole: WholeHarp, cents: list[float | None], request: Request, settings: Settings
) -> tuple[Doubt, ...]:
    """What else the recording may say: another harp before another setting, unless this one's strings were named."""
    ringing = [p for h in hearings for p in h.plucks if p.string_log_odds > 0]
    sounds_hz = [p.pitch.pitch_hz if p.pitch else p.first_hz for p in ringing]
    measured = [c for c in cents if c is not None]
    if measured and request.only is None and (request.first is None or request.last is None):
        ringing_hz = np.array([hz for hz in sounds_hz if hz is not None], dtype=float)
        other = other_layout(ringing_hz, float(np.median(measured)), request.layout, settings.doubts)
        if other is not None:
            return (other,)
    keys = hearings[0].other_keys if len(measured) >= settings.doubts.least_strings else {}
    leads = {key: sum(h.other_keys[key] for h in hearings) for key in keys}
    if (unsaid := unsaid_key(leads, request.tuning, settings.doubts)) is not None:
        return (unsaid, *(doubt for doubt in whole.doubts if doubt.code != unsaid.code))
    return whole.doubts


def _choose(hearings: list[Hearing], strings: int, settings: Settings) -> dict[int, Chosen]:
    """The last good pluck of each string, over all recordings; the last of any kind where none is good."""
    chosen = {}
    for k in range(strings):
        mine = [(part, p) for part, h in enumerate(hearings) for p in h.plucks if p.string == k]
        good = [(part, p) for part, p in mine if p.pitch is not None and p.usable_s >= settings.survey.least_usable_s]
        if mine:
            part, pluck = (good or mine)[-1]
            chosen[k] = Chosen(part=part, heard=pluck, others=tuple(p for _, p in mine if p is not pluck))
    return chosen


def _faint(
    hearings: list[Hearing], chosen: dict[int, Chosen], tapped: Sequence[float], request: Request, settings: Settings
) -> dict[int, tuple[str, float]]:
    """(recording, moment) of something faint in the place of a string not heard and not said to be missing."""
    expected = [
        k
        for k, t in enumerate(request.tuning.targets)
        if t.string not in (request.missing or ()) and (request.only is None or t.string in request.only)
    ]
    unheard = [k for k in expected if k not in chosen and tapped[k] < settings.survey.tapped]
    found: dict[int, tuple[str, float]] = {}
    for h in hearings:
        for k, at_s in faint_places(h, expected, unheard, settings.faint).items():
            found.setdefault(k, (h.info.name, at_s))
    return found


def _taken(k: int, hearings: list[Hearing], request: Request) -> tuple[str, float] | None:
    """The string that a sound was taken for which is likeliest this one's, and how likely that is."""
    plucks = [(chance, p.string) for h in hearings for p in h.plucks for i, chance in p.also if i == k]
    likely = max(((chance, string) for chance, string in plucks if string is not None), default=None)
    return None if likely is None else (request.tuning.targets[likely[1]].string, likely[0])


def _clear(chosen: Chosen, settings: Settings) -> bool:
    """Whether one of a string's plucks sounds like a string and is named with some confidence: speech is neither."""
    s = settings.survey
    return any(p.string_log_odds > 0 and p.confidence >= s.clear for p in (chosen.heard, *chosen.others))


def _too_little(hearings: list[Hearing], found: int, request: Request) -> str:
    events = sum(len(h.plucks) for h in hearings)
    names = " and ".join(h.info.name for h in hearings)
    return (
        f"{names}: only {found} of {len(request.layout.strings)} strings could be made out ({events} sounds in all); "
        "record again with every string plucked once, from the lowest to the highest, each left to ring, without "
        "talking in between. If that was done, look whether --layout is this harp's. Of a few strings recorded once "
        "more, say which with --only."
    )


def _cents(chosen: Chosen, request: Request, k: int) -> float | None:
    if chosen.heard.pitch is None:
        return None
    return float(1200 * np.log2(chosen.heard.pitch.pitch_hz / request.tuning.targets[k].target_hz))


def _status(chosen: Chosen | None, settings: Settings) -> Status:
    if chosen is None:
        return "not heard"
    return "heard" if chosen.heard.confidence >= settings.survey.sure else "uncertain"


def _string_row(
    k: int,
    request: Request,
    chosen: Chosen | None,
    judged: Judged | None,
    names: list[str],
    cents: float | None,
    whole: WholeHarp,
    tapped: float,
    faint: tuple[str, float] | None,
    taken: tuple[str, float] | None,
    settings: Settings,
) -> StringRow:
    target = request.tuning.targets[k]
    status = _status(chosen, settings)
    heard = chosen.heard if chosen else None
    pitch = heard.pitch if heard else None
    decay = heard.decay if heard else None
    condition, beaten, fallen = (judged.condition, judged.falseness, judged.fall) if judged else (None, None, None)
    rattle = judged.rattle if judged else None
    probability = condition.dull_probability if condition and status == "heard" else None
    doubtful = (
        k in (*whole.raised, *whole.lowered) or fallen is not None or rattle is not None or far_low(cents, settings)
    )
    return StringRow(
        string=target.string,
        note=target.note,
        target_hz=target.target_hz,
        status=status,
        onset_s=heard.pluck.onset_s if heard else None,
        recording=chosen.part if chosen else None,
        pitch_hz=pitch.pitch_hz if pitch else None,
        cents=cents,
        cents_u95=pitch.cents_u95 if pitch else None,
        match_confidence=heard.confidence if heard else None,
        decay_s=decay.decay_s if decay else None,
        decay_u95_s=decay.decay_u95_s if decay else None,
        dull=None if probability is None else probability >= settings.condition.call_dull,
        dull_probability=probability,
        false_probability=beaten.false_probability if beaten and status == "heard" else None,
        verdict=verdict(status, doubtful, condition, beaten, settings),
        brightness_db=condition.brightness_db if condition else None,
        expected_decay_s=condition.expected_decay_s if condition else None,
        inharmonicity=pitch.inharmonicity if pitch else None,
        partials=_partial_rows(heard),
        decay_curve_db=decay.curve_db if decay else (),
        remarks=(
            *string_remarks(k, request, chosen, cents, whole, fallen, tapped, faint, taken, settings),
            *rattle_sentences(rattle),
            *evidence(
                condition,
                beaten,
                decay,
                names,
                settings,
            ),
        ),
        beats_n=len(heard.beating.beats) if heard and heard.beating and heard.beating.followed else None,
        loss_factor=judged.loss.typical if judged and judged.loss else None,
        loss_factor_u95=judged.loss.typical_u95 if judged and judged.loss else None,
        faint_s=None if faint is None else faint[1],
    )


def _partial_rows(heard: HeardPluck | None) -> tuple[PartialRow, ...]:
    if heard is None or heard.decay is None or heard.pitch is None:
        return ()
    at = {p.number: p.frequency_hz for p in heard.pitch.partials}
    beats = {b.number: b for b in heard.beating.beats} if heard.beating else {}
    return tuple(
        PartialRow(
            number=p.number,
            frequency_hz=at.get(p.number, p.frequency_hz),
            level_db=p.level_db,
            t60_s=p.t60_s,
            late_t60_s=p.late_t60_s,
            beat_hz=beat.rate_hz if (beat := beats.get(p.number)) else None,
            beat_u95_hz=beat.rate_u95_hz if beat else None,
            beat_db=beat.weaker_db if beat else None,
        )
        for p in heard.decay.partials
    )


def _pluck_rows(
    hearings: list[Hearing], chosen: dict[int, Chosen], request: Request, settings: Settings
) -> tuple[PluckRow, ...]:
    counted = {id(c.heard) for c in chosen.values()}
    names = [t.string for t in request.tuning.targets]
    return tuple(
        PluckRow(
            onset_s=p.pluck.onset_s,
            end_s=p.pluck.onset_s + p.usable_s,
            recording=part,
            string=None if p.string is None else names[p.string],
            confidence=p.confidence,
            also_possible=tuple((names[i], chance) for i, chance in p.also),
            counted=id(p) in counted,
            reason="" if id(p) in counted else pluck_reason(p, settings),
            pitch_hz=p.pitch.pitch_hz if p.pitch else None,
            level_db=p.pluck.level_db,
            posterior=tuple((names[i], chance) for i, chance in p.posterior),
        )
        for part, h in enumerate(hearings)
        for p in h.plucks
    )


def _plain(settings: Settings) -> dict[str, dict[str, float | int | str | bool]]:
    """Settings as the survey keeps them: numbers and words; what is a table of numbers as words."""

    def plain(value: Any) -> float | int | str | bool:
        return value if isinstance(value, float | int | str | bool) else str(value)

    return {section: {n: plain(v) for n, v in values.items()} for section, values in asdict(settings).items()}
