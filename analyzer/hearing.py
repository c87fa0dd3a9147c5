"""One recording heard: its plucks, which string each is, and what was measured on each.

Composition of the listening stages only: recording -> plucks -> evidence -> matching -> pitch, decay. What a whole
harp's strings say together is `pipeline`'s.
"""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from analyzer import decay, pitch
from analyzer.bands import PluckBands
from analyzer.beating import Beating, Followed, find_beats, follow
from analyzer.checkup import review_with_plucks
from analyzer.decay import Decay
from analyzer.dry import without_room
from analyzer.evidence import Evidence, in_company, weigh
from analyzer.levelling import levelled
from analyzer.load import expected_inharmonicity
from analyzer.matching import Known, Matching, likely_pitches, match
from analyzer.pitch import Pitch
from analyzer.plucks import Pluck, Sound, find_onsets
from analyzer.rattle import Rattle, find_rattle
from analyzer.recording import Recording, RecordingInfo, read_recording
from analyzer.reference import ReferenceReading, reference_offset_cents
from analyzer.request import Request
from analyzer.room import apart
from analyzer.settings import Settings
from analyzer.steadiness import with_usual
from analyzer.tuning import make_tuning

GATED = "the recorder turned it down too soon"
"""Why there is no decay where it would have been heard for longer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardPluck:
    """One event with everything known of it."""

    pluck: Pluck
    usable_s: float
    """From the onset to where it stops being usable."""
    string: int | None
    """Index into the layout's strings of the likeliest reading; None for "no string"."""
    confidence: float
    also: tuple[tuple[int, float], ...]
    """(string index, probability) of the others worth listing, likeliest first."""
    posterior: tuple[tuple[int, float], ...]
    """(string index, probability) of every reading that is not negligible, likeliest first."""
    slip: bool
    string_log_odds: float
    """Evidence that a string sounds at all, natural logarithm (`evidence`)."""
    first_hz: float | None
    """What its first partial most likely is, whatever string it is; None where there is no tone."""
    pitch: Pitch | None
    other_octave: float
    """Probability that the pitch is one an octave or more from the one measured."""
    decay: Decay | None
    beating: Beating | None
    rattle: Rattle | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Hearing:
    """One recording."""

    info: RecordingInfo
    plucks: tuple[HeardPluck, ...]
    faint_s: tuple[float, ...]
    """Moments at which something rises too little to be taken for a pluck."""
    matching: Matching
    reference: ReferenceReading | None
    """What the reference tone reads; None where none was stated. Where it was found, it is taken off every pitch."""
    other_keys: dict[str, float]
    """Keys of the open strings that nobody stated -> by how much better each explains the whole recording, natural log;
    empty where the key or the strings were stated."""


def hear(path: Path, request: Request, part: int, settings: Settings) -> Hearing:
    """Read and hear one recording; `part` is its index among the request's recordings."""
    recording = read_recording(path, settings.recording)
    sound, rate_hz = recording.samples, recording.rate_hz
    onsets = find_onsets(sound, rate_hz, settings.plucks)
    plucks = onsets.plucks
    evidence = tuple(weigh(sound, rate_hz, p, settings.evidence) for p in plucks)
    evidence = in_company(plucks, evidence, settings.evidence)
    reference = None
    if request.reference_hz is not None:
        reference = reference_offset_cents(
            sound, rate_hz, plucks, request.reference_hz, settings.reference, settings.pitch
        )
    known = _known(request, part, plucks, reference, settings)
    matching = match(evidence, request.tuning.targets, known, settings.matching)
    likeliest = matching.probabilities.argmax(axis=1) if plucks else np.zeros(0, dtype=int)
    none = len(request.tuning.targets)
    ends = _usable_ends(plucks, [int(k) != none for k in likeliest], recording, settings)
    sounding = [k for k in range(len(plucks)) if likeliest[k] != none]
    level = levelled(
        sound, rate_hz, recording.levels, [plucks[k].onset_s for k in sounding], [ends[k] for k in sounding], settings
    )
    measured = [_Measured()] * len(plucks)
    for k, open_end_s, doubt_db in zip(sounding, level.ends_s, level.doubts_db, strict=True):
        measured[k] = _measured(
            level.sound,
            rate_hz,
            request,
            plucks,
            k,
            ends[k],
            open_end_s,
            evidence[k],
            matching,
            doubt_db,
            settings,
        )
    measured = _together(measured, settings)
    beating = iter(find_beats([m.followed for m in measured if m.followed is not None], settings.falseness))
    heard = tuple(
        _heard(plucks[k], ends[k], evidence[k], m, next(beating) if m.followed else None, matching, k, settings)
        for k, m in enumerate(measured)
    )
    if reference is not None and reference.offset_cents is not None:
        heard = tuple(_clocked(p, reference.offset_cents) for p in heard)
    strings = [p for p in heard if p.string is not None]
    info = review_with_plucks(
        recording.info,
        recording.levels,
        [p.pluck.onset_s for p in strings],
        [p.pluck.onset_s + p.usable_s for p in strings],
        settings.recording,
        level.gate_db,
    )
    return Hearing(
        info=info,
        plucks=heard,
        faint_s=onsets.faint_s,
        matching=matching,
        reference=reference,
        other_keys=_other_keys(evidence, known, matching, request, settings),
    )


def _other_keys(
    evidence: tuple[Evidence, ...], known: Known, matching: Matching, request: Request, settings: Settings
) -> dict[str, float]:
    """How much better the recording reads in the other usual keys of a lever harp's open strings, where none was
    stated: a harp in C, read in E-flat, agrees with itself two strings higher. Strings recorded again by name keep it
    in any key."""
    if request.layout.kind != "lever" or "key" in request.tuning.stated or request.only is not None:
        return {}
    tunings = (make_tuning(request.layout, key, a4_hz=request.tuning.a4_hz) for key in settings.doubts.usual_keys)
    return {
        other.key: match(evidence, other.targets, known, settings.matching).log_evidence - matching.log_evidence
        for other in tunings
        if other.key != request.tuning.key
    }


def _clocked(heard: HeardPluck, offset_cents: float) -> HeardPluck:
    """The pluck with the recorder's clock error taken off its pitch."""
    if heard.pitch is None:
        return heard
    true_hz = heard.pitch.pitch_hz * float(2 ** (-offset_cents / 1200))
    return replace(heard, pitch=replace(heard.pitch, pitch_hz=true_hz))


def _known(
    request: Request, part: int, plucks: tuple[Pluck, ...], reference: ReferenceReading | None, settings: Settings
) -> Known:
    onsets = np.array([p.onset_s for p in plucks])

    def event(at_s: float) -> int | None:
        if len(onsets) == 0:
            return None
        k = int(np.abs(onsets - at_s).argmin())
        return k if abs(onsets[k] - at_s) < settings.matching.named_within_s else None

    named = {k: string for at_s, string in request.named if part == 0 and (k := event(at_s)) is not None}
    ignored = {k for at_s in request.ignored if part == 0 and (k := event(at_s)) is not None}
    if reference is not None and reference.stop_s is not None:
        ignored |= {k for k, onset_s in enumerate(onsets) if onset_s < reference.stop_s}
    return Known(
        order=request.order,
        first=request.first if part == 0 else None,
        last=request.last if part == len(request.recordings) - 1 else None,
        missing=_absent(request),
        whole=len(request.recordings) == 1,
        named=named,
        ignored=frozenset(ignored),
    )


def _absent(request: Request) -> frozenset[str] | None:
    """The strings that are not in the recording, by the person's word; None where nothing was said."""
    if request.only is None:
        return request.missing
    return frozenset(t.string for t in request.tuning.targets) - request.only | (request.missing or frozenset())


def _usable_ends(
    plucks: tuple[Pluck, ...], is_string: list[bool], recording: Recording, settings: Settings
) -> list[float]:
    """Where each event stops being usable, seconds in the recording.

    At the next string. A knock or a voice in between ends it too where it is about as loud and enough was heard before.
    """
    s = settings.plucks
    ends = []
    for k, p in enumerate(plucks):
        end_s = recording.info.duration_s
        for j in range(k + 1, len(plucks)):
            later = plucks[j]
            loud = later.level_db > p.level_db - s.disturbing_db and later.onset_s - p.onset_s > s.enough_s
            if is_string[j] or loud:
                end_s = later.onset_s
                break
        ends.append(end_s)
    return ends


@dataclass(frozen=True, slots=True, kw_only=True)
class _Measured:
    """What was measured on one event, before beats are looked for in all together."""

    pitch: Pitch | None = None
    other_octave: float = 0.0
    decay: Decay | None = None
    followed: Followed | None = None
    rattle: Rattle | None = None


def _measured(
    sound: Sound,
    rate_hz: int,
    request: Request,
    plucks: tuple[Pluck, ...],
    k: int,
    end_s: float,
    open_end_s: float,
    evidence: Evidence,
    matching: Matching,
    gain_doubt_db: float,
    settings: Settings,
) -> _Measured:
    onset_s = plucks[k].onset_s
    return _string_measured(
        sound,
        rate_hz,
        request,
        plucks[k],
        int(matching.probabilities[k].argmax()),
        end_s - onset_s,
        open_end_s - onset_s,
        plucks[k - 1].onset_s - onset_s + settings.pitch.guard_s if k else -onset_s,
        evidence,
        float(matching.deviation_cents[k]),
        gain_doubt_db,
        settings,
    )


def _together(measured: list[_Measured], settings: Settings) -> list[_Measured]:
    """Their decays with what all of them tell: how steady they usually are, and what the room adds, where one shows."""
    decays = with_usual([m.decay for m in measured], settings.decay)
    room, own = apart([d.courses if d is not None else None for d in decays], settings.room)
    if room is not None:
        decays = tuple(
            d if d is None else without_room(d, partials, room, settings.room)
            for d, partials in zip(decays, own, strict=True)
        )
    return [replace(m, decay=d) for m, d in zip(measured, decays, strict=True)]


def _heard(
    pluck: Pluck,
    end_s: float,
    evidence: Evidence,
    measured: _Measured,
    beating: Beating | None,
    matching: Matching,
    k: int,
    settings: Settings,
) -> HeardPluck:
    row = matching.probabilities[k]
    none = len(row) - 1
    best = int(row.argmax())
    order = [int(i) for i in np.argsort(-row) if i != none]
    return HeardPluck(
        pluck=pluck,
        usable_s=end_s - pluck.onset_s,
        string=None if best == none else best,
        confidence=float(row[best]),
        also=tuple((i, float(row[i])) for i in order if i != best and row[i] >= settings.matching.listed),
        posterior=tuple((i, float(row[i])) for i in order if row[i] >= settings.matching.kept),
        slip=bool(matching.slipped[k] > 0.5),
        string_log_odds=evidence.string_log_odds,
        first_hz=next(iter(evidence.pitches_hz), None),
        pitch=measured.pitch,
        other_octave=measured.other_octave,
        decay=measured.decay,
        beating=beating,
        rattle=measured.rattle,
    )


def _string_measured(
    sound: Sound,
    rate_hz: int,
    request: Request,
    pluck: Pluck,
    string: int,
    usable_s: float,
    open_s: float,
    ring_from_s: float,
    evidence: Evidence,
    deviation_cents: float,
    gain_doubt_db: float,
    settings: Settings,
) -> _Measured:
    target = request.tuning.targets[string]
    likely = likely_pitches(evidence, target.target_hz, deviation_cents, settings.matching)
    if not likely:
        return _Measured()
    span_s = min(usable_s, settings.decay.most_s)
    bands = PluckBands(sound, rate_hz, pluck.onset_s, span_s, settings.pitch.ring_s + settings.pitch.guard_s)
    seed_hz = likely[0][0]
    expected = expected_inharmonicity(
        request.layout.strings[string],
        seed_hz,
        raised_semitones=target.raised_semitones,
        basis=request.layout.basis,
    )
    stiffness = (expected[0], float(np.log1p(expected[1]))) if expected else None
    measured = None
    for hz, probability in likely:
        if measured is None and (hz == seed_hz or probability >= settings.matching.listed):
            seed_hz = hz
            measured = pitch.measure(bands, hz, span_s, ring_from_s, stiffness, settings.pitch, gain_doubt_db > 0)
    elsewhere = sum(p for hz, p in likely if abs(np.log2(hz / seed_hz)) > settings.matching.other_octave)
    if measured is None:
        return _Measured(other_octave=elsewhere)
    at = {p.number: p.frequency_hz for p in measured.partials}
    b = measured.inharmonicity or (stiffness[0] if stiffness else 0.0)
    numbers = range(1, settings.decay.partials + 1)
    law = (measured.pitch_hz * n * float(np.sqrt((1 + b * n**2) / (1 + b))) for n in numbers)
    partials_hz = tuple(
        hz for n, f in zip(numbers, law, strict=True) if (hz := at.get(n, f)) < settings.decay.highest_hz
    )
    heard_s = min(span_s, open_s)
    dying = decay.measure(bands, partials_hz, heard_s, settings.decay, settings.room, gain_doubt_db)
    return _Measured(
        pitch=measured,
        other_octave=elsewhere,
        decay=replace(dying, reason=GATED) if dying.reason and open_s < span_s else dying,
        followed=follow(bands, partials_hz, heard_s, settings.falseness),
        rattle=find_rattle(sound, rate_hz, pluck.onset_s, min(usable_s, open_s), measured.pitch_hz, settings.rattle),
    )
