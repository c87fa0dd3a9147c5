"""Whole recordings of invented harps, with the truth of every pluck, from the plucks of `synth`.

A harp is its strings (lowest first, with the frequencies they are to have), how slack it is, what is wrong
with it, how a person plucks through it, and how that was recorded. All lengths of time, levels and habits
are estimates for invented harps, no source. The same spec and seed give the same samples.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tests import synth_sounds
from tests.synth import PLUCK_RMS, NoteTruth, PluckSpec, pluck, usual_inharmonicity, usual_t60_s
from tests.synth_room import Box, in_box

Samples = NDArray[np.float64]
Kind = Literal["pluck", "repeat", "slip", "late", "double"]
Disturbance = Literal["knock", "cough", "speech", "click", "tap"]

UNEVEN_PARTIALS = 30
STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def harp_strings(lowest: str, highest: str, flats: str = "BEA", a4_hz: float = 440.0) -> tuple[tuple[str, float], ...]:
    """Strings by letter and octave, lowest first, with targets in equal temperament."""
    strings = []
    letter, octave = lowest[0], int(lowest[1:])
    while True:
        midi = 12 * (octave + 1) + STEPS[letter] - (letter in flats)
        strings.append((f"{letter}{octave}", a4_hz * 2 ** ((midi - 69) / 12)))
        if f"{letter}{octave}" == highest:
            return tuple(strings)
        octave += letter == "B"
        letter = "CDEFGAB"["CDEFGAB".index(letter) - 6]


@dataclass(frozen=True, slots=True, kw_only=True)
class HarpSpec:
    """A harp, the person who plucks it, and the recorder."""

    strings: tuple[tuple[str, float], ...] = field(default_factory=lambda: harp_strings("C2", "A6"))
    """(name, target in Hz), lowest first."""
    slack_cents: float = -100.0
    """Deviation in the mean."""
    drift_cents: float = 40.0
    """Amplitude of its smooth change over the harp."""
    scatter_cents: float = 20.0
    """Standard deviation of each string's own."""
    cents: Mapping[str, float] = field(default_factory=dict)
    """Deviations of single strings, instead of the above."""
    missing: tuple[str, ...] = ()
    octave_low: tuple[str, ...] = ()
    dull: Mapping[str, float] = field(default_factory=dict)
    """String: damping factor."""
    false: Mapping[str, float] = field(default_factory=dict)
    """String: split in Hz between two polarisations that are then only 4 dB apart."""
    split_hz: tuple[float, float] = (0.0, 0.25)
    """Range of the ordinary split; never above 2 cents of the pitch."""
    glide_cents: tuple[float, float] = (0.0, 4.0)
    t60_scatter: float = 0.08
    """Standard deviation of the natural logarithm of a string's T60 against the usual curve."""
    uneven: float = 0.0
    """Standard deviation of the natural logarithm of single partials' losses about their law: a soundboard's."""
    t60_scale: float = 1.0
    """Below 1: a harp whose strings all are old."""

    order: Literal["up", "down"] = "up"
    gap_s: tuple[float, float] = (2.5, 3.8)
    """Range of the time from pluck to pluck."""
    repeats: int = 0
    """Strings plucked twice."""
    slips: int = 0
    """Times that the finger falls back to a string one to three before."""
    late: int = 0
    """Strings passed over and plucked after one to three others."""
    doubles: int = 0
    """Plucks that the finger touches 0.08-0.2 s before."""
    strength_db: tuple[float, float] = (-5.0, 3.0)
    softer: Mapping[str, float] = field(default_factory=dict)
    """String: dB by which it is plucked more softly than the others."""
    pluck_at: tuple[float, float] = (0.22, 0.48)
    pluck_width: tuple[float, float] = (0.012, 0.03)
    ringing: bool = False
    """Nothing is muffled, and the other strings answer."""
    ring_on_share: float = 0.15
    """Share of strings that the muffling hand misses."""
    coupling_per_s: float = 0.15
    """Strength of the answers when `ringing`."""

    rate_hz: int = 44100
    snr_db: float = 45.0
    """Initial RMS of a pluck of strength 0 against the noise's."""
    room_t60_s: float | None = 0.4
    box: Box | None = None
    """Another law of a room (`synth_room`), in place of `room_t60_s`."""
    phone: bool = False
    """Through `phone_channel`: microphone, level control, AAC."""
    highpass_hz: float = 180.0
    gain_control: bool = True
    knocks: int = 0
    coughs: int = 0
    speech: int = 0
    clicks: int = 0
    taps_for_missing: bool = False
    """One tap on a table in the place of each missing string."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PluckTruth:
    onset_s: float
    end_s: float
    """Where the string is muffled or plucked again, or has died away by 70 dB."""
    string: str
    kind: Kind
    """`double`: the touch before the pluck itself; `slip`: fallen back to; `late`: passed over before."""
    target_hz: float
    cents: float
    """Of `note.pitch_hz` against the target."""
    note: NoteTruth


@dataclass(frozen=True, slots=True, kw_only=True)
class DisturbanceTruth:
    onset_s: float
    end_s: float
    kind: Disturbance


class HarpTake(NamedTuple):
    samples: Samples
    rate_hz: int
    plucks: tuple[PluckTruth, ...]
    disturbances: tuple[DisturbanceTruth, ...]


class _Event(NamedTuple):
    kind: Kind | Disturbance
    string: str
    onset_s: float


def string_deviations(spec: HarpSpec, rng: np.random.Generator) -> dict[str, float]:
    """Cents against the target of every string's stronger first partial at rest."""
    place = np.linspace(0, 1, len(spec.strings))
    phase, turns = rng.uniform(0, 2 * np.pi), rng.uniform(0.3, 1.0)
    smooth = spec.slack_cents + spec.drift_cents * np.sin(2 * np.pi * turns * place + phase)
    drawn = smooth + spec.scatter_cents * rng.standard_normal(place.size)
    names = [name for name, _ in spec.strings]
    cents = dict(zip(names, drawn.tolist(), strict=True))
    cents.update({name: cents[name] - 1200 for name in spec.octave_low})
    cents.update(spec.cents)
    return cents


def _walk(spec: HarpSpec, rng: np.random.Generator) -> list[tuple[Kind | Disturbance, str]]:
    """What is done, in order: plucks with repeats, slips and late ones; taps; disturbances between."""
    present = [name for name, _ in spec.strings if name not in spec.missing]
    steps: list[tuple[Kind | Disturbance, str]] = [("pluck", name) for name, _ in spec.strings]
    if spec.order == "down":
        steps.reverse()
    if spec.taps_for_missing:
        steps = [("tap", "") if name in spec.missing else (kind, name) for kind, name in steps]
    steps = [step for step in steps if step[1] not in spec.missing]

    def chosen(count: int, usable: list[str]) -> list[str]:
        return [usable[i] for i in rng.choice(len(usable), count, replace=False)] if count else []

    inner = present[2:-2]
    picked = chosen(spec.late + spec.slips + spec.repeats, inner)
    late, slips, repeats = np.split(np.array(picked, dtype=object), [spec.late, spec.late + spec.slips])
    for name in late:
        at = steps.index(("pluck", name))
        steps.pop(at)
        steps.insert(min(at + int(rng.integers(1, 4)), len(steps)), ("late", name))
    for name in repeats:
        at = next(i for i, (kind, string) in enumerate(steps) if string == name)
        steps.insert(at + 1, ("repeat", name))
    for name in slips:
        at = next(i for i, (kind, string) in enumerate(steps) if string == name)
        before = [string for kind, string in steps[:at] if kind == "pluck"]
        steps.insert(at + 1, ("slip", before[-min(int(rng.integers(1, 4)), len(before))]))
    for kind, count in (
        ("knock", spec.knocks),
        ("cough", spec.coughs),
        ("speech", spec.speech),
        ("click", spec.clicks),
    ):
        for _ in range(count):
            steps.insert(int(rng.integers(1, len(steps))), (kind, ""))  # type: ignore[arg-type]
    doubled = set(chosen(spec.doubles, [name for name in inner if ("pluck", name) in steps]))
    return [new for step in steps for new in ([("double", step[1]), step] if _is_doubled(step, doubled) else [step])]


def _is_doubled(step: tuple[str, str], doubled: set[str]) -> bool:
    return step[0] == "pluck" and step[1] in doubled


def _timed(spec: HarpSpec, rng: np.random.Generator) -> tuple[list[_Event], float]:
    """Onsets, and the recording's length in seconds. A disturbance takes its place within a longer gap."""
    events, now_s = [], 1.5
    for kind, string in _walk(spec, rng):
        events.append(_Event(kind, string, now_s))
        if kind == "double":
            now_s += rng.uniform(0.08, 0.2)
        elif kind == "speech":
            now_s += rng.uniform(2.6, 3.4)
        elif kind in ("knock", "click", "cough"):
            now_s += rng.uniform(0.8, 1.4)
        else:
            now_s += rng.uniform(*spec.gap_s)
    return events, now_s + 1.5


def _own_specs(spec: HarpSpec, rng: np.random.Generator) -> dict[str, PluckSpec]:
    """Each present string's own nature, the same at every pluck."""
    cents = string_deviations(spec, rng)
    own = {}
    for name, target_hz in spec.strings:
        f1_hz = target_hz * 2 ** (cents[name] / 1200)
        slackening = 2 ** (-float(np.clip(cents[name], -1200, 300)) / 600)  # B goes with 1/T, T with f²
        is_false = name in spec.false
        split_hz = spec.false[name] if is_false else min(rng.uniform(*spec.split_hz), 0.00116 * f1_hz)
        own[name] = PluckSpec(
            f1_hz=f1_hz,
            inharmonicity=usual_inharmonicity(target_hz) * slackening * float(np.exp(0.2 * rng.standard_normal())),
            t60_s=spec.t60_scale * usual_t60_s(target_hz) * float(np.exp(spec.t60_scatter * rng.standard_normal())),
            damping_factor=spec.dull.get(name, 1.0),
            uneven=tuple(spec.uneven * rng.standard_normal(UNEVEN_PARTIALS)) if spec.uneven else (),
            split_hz=split_hz,
            second_db=-4.0 if is_false else rng.uniform(-20, -8),
            second_decay_ratio=rng.uniform(1.0, 1.5),
        )
    return {name: string for name, string in own.items() if name not in spec.missing}


def _played(own: PluckSpec, spec: HarpSpec, kind: Kind, softer_db: float, rng: np.random.Generator) -> PluckSpec:
    strength_db = rng.uniform(*spec.strength_db) - softer_db
    return replace(
        own,
        strength_db=strength_db - 8.0 if kind == "double" else strength_db,
        pluck_at=rng.uniform(*spec.pluck_at),
        pluck_width=rng.uniform(*spec.pluck_width),
        glide_cents=rng.uniform(*spec.glide_cents),
        glide_s=rng.uniform(0.15, 0.5),
        finger_db=rng.uniform(-18, -8),
        knock_db=rng.uniform(-20, -10),
    )


def _muffle_s(
    spec: HarpSpec, at: int, events: list[_Event], length_s: float, own: PluckSpec, rng: np.random.Generator
) -> float:
    """When this pluck's string falls silent: plucked again, muffled near the next pluck, or died away."""
    died_s = events[at].onset_s + 70 / 60 * own.second_decay_ratio * (own.t60_s or 0.0) / own.damping_factor
    length_s = min(length_s, died_s)
    later = [event for event in events[at + 1 :] if event.string]
    again_s = next((event.onset_s for event in later if event.string == events[at].string), length_s)
    if spec.ringing or not later or rng.random() < spec.ring_on_share:
        return min(again_s, length_s)
    muffled_s = max(later[0].onset_s + rng.uniform(-0.25, 0.05), events[at].onset_s + 0.05)
    return min(again_s, length_s, muffled_s)


def _disturbance(kind: str, rate_hz: int, rng: np.random.Generator) -> tuple[Samples, float]:
    """Samples of peak 1, and the level they are to have."""
    if kind == "speech":
        return synth_sounds.speech(rng.uniform(1.4, 2.4), rate_hz, rng), rng.uniform(0.1, 0.3)
    make = {
        "knock": synth_sounds.case_knock,
        "cough": synth_sounds.cough,
        "click": synth_sounds.metal_click,
        "tap": synth_sounds.tap,
    }[kind]
    return make(rate_hz, rng), rng.uniform(0.1, 0.4)


def harp_recording(spec: HarpSpec, rng: np.random.Generator) -> HarpTake:
    """The recording of the harp plucked through once, and its truth in time order."""
    own = _own_specs(spec, rng)
    targets = dict(spec.strings)
    events, length_s = _timed(spec, rng)
    rate_hz = spec.rate_hz
    dry = np.zeros(int(length_s * rate_hz))
    plucks: list[PluckTruth] = []
    disturbances: list[DisturbanceTruth] = []
    for at, event in enumerate(events):
        start_n = round(event.onset_s * rate_hz)
        onset_s = start_n / rate_hz
        if not event.string:
            wave, peak = _disturbance(event.kind, rate_hz, rng)
            wave = peak * wave
            disturbances.append(
                DisturbanceTruth(onset_s=onset_s, end_s=onset_s + wave.size / rate_hz, kind=event.kind)  # type: ignore[arg-type]
            )
        else:
            muffle_s = _muffle_s(spec, at, events, length_s, own[event.string], rng)
            softer_db = spec.softer.get(event.string, 0.0)
            played = _played(own[event.string], spec, event.kind, softer_db, rng)  # type: ignore[arg-type]
            answering = tuple(string for name, string in own.items() if name != event.string)
            wave, note = pluck(
                played,
                min(muffle_s + 0.2, length_s) - onset_s,
                rate_hz,
                rng,
                answering=answering if spec.ringing else (),
                coupling_per_s=spec.coupling_per_s if spec.ringing else 0.0,
                heard_s=muffle_s - onset_s,
            )
            t_s = np.arange(wave.size) / rate_hz
            wave *= np.exp(-np.maximum(t_s - (muffle_s - onset_s), 0) / 0.025)
            cents = 1200 * float(np.log2(note.pitch_hz / targets[event.string]))
            plucks.append(
                PluckTruth(
                    onset_s=onset_s,
                    end_s=muffle_s,
                    string=event.string,
                    kind=event.kind,  # type: ignore[arg-type]
                    target_hz=targets[event.string],
                    cents=cents,
                    note=note,
                )
            )
        wave = wave[: dry.size - start_n]
        dry[start_n : start_n + wave.size] += wave
    return HarpTake(_recorded(dry, spec, rng), rate_hz, tuple(plucks), tuple(disturbances))


def _recorded(dry: Samples, spec: HarpSpec, rng: np.random.Generator) -> Samples:
    """Room, noise and phone; scaled down where it would clip."""
    if spec.box is not None:
        heard = in_box(dry, spec.box, spec.rate_hz, rng)
    else:
        heard = dry if spec.room_t60_s is None else synth_sounds.in_room(dry, spec.room_t60_s, spec.rate_hz, rng)
    heard = heard + PLUCK_RMS * 10 ** (-spec.snr_db / 20) * synth_sounds.background_noise(heard.size, rng)
    heard = heard * min(1.0, 0.9 / float(np.max(np.abs(heard))))
    if spec.phone:
        heard = synth_sounds.phone_channel(
            heard, spec.rate_hz, highpass_hz=spec.highpass_hz, gain_control=spec.gain_control
        )
    return heard
