"""An invented neglected harp, before and after its strings were seen to, synthesised for `harp-survey demo`.

Task: two recordings that need no harp, and the truth behind them. The school's lever harp of 34 strings was found
in a store room: slack by one to two and a half semitones, two strings gone, one tuned an octave low, three dull, one
false. A knock on the case and a string plucked twice are in the first recording. Afterwards it is near pitch, its
missing, false and dull strings replaced but for one. Everything here is invented.

Method: modal synthesis. Partial n of a stiff string lies at n·f_0·√(1 + B·n²) (Fletcher, JASA 36 (1964) 203),
starts as sin(nπβ)/n after a pluck at the share β of the length, softened by the finger, and dies exponentially, the
higher the faster; a false string has each of them twice, a little apart. Noise is added. No room, no phone.

Conventions: cents against the string's target; seconds; Hz; samples are mono, full scale 1. The same settings
give the same recordings.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from analyzer.layout import load_layout
from analyzer.settings import DemoSettings
from analyzer.tuning import make_tuning

Samples = NDArray[np.float64]
Complex = NDArray[np.complexfloating[Any, Any]]
State = Literal["before", "after"]

LAYOUT, TUNING, LEVERS = "lever-34-C2-A6", "E-flat", "off"
"""What to analyse the recordings with."""
DATES = ("2026-03-02", "2026-04-13")
"""Days of the two recordings."""
HARP_NAME = "The school's lever harp, found in a store room"
MISSING = ("D3", "A5")
OCTAVE_LOW = "G4"
DULL = ("B2", "F4", "C5")
STILL_DULL = "B2"
FALSE = "A4"
PLUCKED_TWICE = "D4"
KNOCK_AFTER = "F3"

_DEFAULTS = DemoSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoString:
    """One string of the invented harp on one day."""

    string: str
    target_hz: float
    cents: float | None
    """Deviation of its first partial; None: the string is missing."""
    t60_s: float
    """Decay of its first partial by 60 dB."""
    dull: bool
    split_hz: float
    """How far apart its partials' two halves lie (the first partial's); 0 for a true string."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoPluck:
    """One sound of a demo recording."""

    onset_s: float
    string: str | None
    """None: the knock on the case."""


def demo_harp(state: State, settings: DemoSettings = _DEFAULTS) -> tuple[DemoString, ...]:
    """The harp's strings, lowest first."""
    targets = make_tuning(load_layout(LAYOUT), TUNING, levers=LEVERS).targets
    rng = np.random.default_rng(settings.seed)
    place = np.linspace(0.0, 1.0, len(targets))
    least, most = settings.slack_cents
    smooth = (least + most) / 2 + (most - least) / 2 * np.sin(2 * np.pi * (0.8 * place + 0.1))
    own = rng.uniform(-1.0, 1.0, (2, len(targets)))
    slack = smooth + settings.slack_scatter_cents * own[0]
    tuned = settings.tuned_cents * own[1]
    return tuple(_string(t.string, t.target_hz, slack[i], tuned[i], state, settings) for i, t in enumerate(targets))


def _string(
    name: str, target_hz: float, slack_cents: float, tuned_cents: float, state: State, settings: DemoSettings
) -> DemoString:
    dull = name in DULL if state == "before" else name == STILL_DULL
    t60_s = settings.t60_c2_s * (target_hz / settings.c2_hz) ** -settings.t60_fall
    cents: float | None = tuned_cents
    if state == "before":
        cents = slack_cents - 1200 * (name == OCTAVE_LOW)
        cents = None if name in MISSING else cents
    return DemoString(
        string=name,
        target_hz=target_hz,
        cents=cents,
        t60_s=t60_s / settings.dull_damping if dull else t60_s,
        dull=dull,
        split_hz=settings.split_hz if name == FALSE and state == "before" else 0.0,
    )


def demo_plucks(state: State, settings: DemoSettings = _DEFAULTS) -> tuple[DemoPluck, ...]:
    """What is heard, in time order: the strings from the lowest up, and in `before` the repeat and the knock."""
    plucks = []
    now_s = settings.lead_s
    for string in demo_harp(state, settings):
        if string.cents is None:
            continue
        gap_s = float(np.interp(np.log(string.target_hz), np.log(settings.gap_at_hz), settings.gap_s))
        plucks.append(DemoPluck(onset_s=now_s, string=string.string))
        if state == "before" and string.string == KNOCK_AFTER:
            plucks.append(DemoPluck(onset_s=now_s + gap_s, string=None))
            now_s += settings.knock_gap_s
        if state == "before" and string.string == PLUCKED_TWICE:
            now_s += gap_s
            plucks.append(DemoPluck(onset_s=now_s, string=string.string))
        now_s += gap_s
    return tuple(plucks)


def write_demo_recordings(folder: Path, settings: DemoSettings = _DEFAULTS) -> tuple[Path, Path]:
    """Write before.flac and after.flac into `folder` (made where it is not there); gives their paths."""
    import soundfile

    folder.mkdir(parents=True, exist_ok=True)
    before, after = folder / "before.flac", folder / "after.flac"
    soundfile.write(before, demo_samples("before", settings), settings.rate_hz)
    soundfile.write(after, demo_samples("after", settings), settings.rate_hz)
    return before, after


def demo_samples(state: State, settings: DemoSettings = _DEFAULTS) -> Samples:
    """The recording: every sound at its place, muffled when the next begins, in a little noise."""
    rng = np.random.default_rng((settings.seed, state == "after"))
    strings = {string.string: string for string in demo_harp(state, settings)}
    plucks = demo_plucks(state, settings)
    ends_s = [pluck.onset_s for pluck in plucks[1:]] + [plucks[-1].onset_s + settings.tail_s]
    fade_n = round(settings.muffle_s * settings.rate_hz)
    total = settings.noise_rms * rng.standard_normal(round(ends_s[-1] * settings.rate_hz) + fade_n)
    for pluck, end_s in zip(plucks, ends_s, strict=True):
        start_n = round(pluck.onset_s * settings.rate_hz)
        sample_n = round(end_s * settings.rate_hz) + fade_n - start_n
        knock = settings.knock_peak * _knock(sample_n, settings, rng)
        if pluck.string is None:
            wave = knock
        else:
            wave = _pluck(strings[pluck.string], sample_n, settings, rng) + settings.pluck_knock * knock
        wave[-fade_n:] *= np.linspace(1.0, 0.0, fade_n)
        total[start_n : start_n + sample_n] += wave
    return total


def _pluck(string: DemoString, sample_n: int, settings: DemoSettings, rng: np.random.Generator) -> Samples:
    """One string from its onset, shape (sample_n,)."""
    assert string.cents is not None
    f1_hz = string.target_hz * 2 ** (string.cents / 1200)
    b = settings.inharmonicity
    n = np.arange(1, settings.partials_n + 1)
    f_hz = n * f1_hz * np.sqrt((1 + b * n**2) / (1 + b))
    n, f_hz = n[f_hz < settings.highest_hz], f_hz[f_hz < settings.highest_hz]
    level = np.abs(np.sin(n * np.pi * rng.uniform(*settings.pluck_at))) / n
    level *= np.exp(-((n * np.pi * settings.finger_width) ** 2) / 2)
    level *= rng.uniform(*settings.pluck_rms) * np.sqrt(2 / np.sum(level**2))
    fall = np.log(1000) / string.t60_s * n**settings.fall_with_number
    phase = np.exp(2j * np.pi * rng.random(n.size))
    wave = _ringing(level * phase, -fall + 2j * np.pi * f_hz, sample_n, settings.rate_hz)
    if string.split_hz:
        apart_hz = f_hz * string.split_hz / f1_hz
        wave += _ringing(
            settings.split_level * level * phase, -fall + 2j * np.pi * (f_hz + apart_hz), sample_n, settings.rate_hz
        )
    rise_n = round(settings.rise_s * settings.rate_hz)
    wave[:rise_n] *= np.linspace(0.0, 1.0, rise_n)
    return wave


def _knock(sample_n: int, settings: DemoSettings, rng: np.random.Generator) -> Samples:
    """The case struck: a few damped modes and a click, peak about 1."""
    modes_hz = np.asarray(settings.body_hz)
    fall = np.pi * modes_hz / settings.body_quality
    wave = _ringing(np.full(fall.size, -1j / fall.size), -fall + 2j * np.pi * modes_hz, sample_n, settings.rate_hz)
    click_n = round(settings.click_s * settings.rate_hz)
    wave[:click_n] += rng.standard_normal(click_n) * np.linspace(0.5, 0.0, click_n)
    return wave


def _ringing(a: Complex, s: Complex, sample_n: int, rate_hz: int) -> Samples:
    """Σ Re(a·exp(s·t)), shape (sample_n,), as one matrix product of block starts and what happens within a block."""
    block_n = 128
    starts = a * np.exp(np.arange(0, sample_n, block_n)[:, None] * s / rate_hz)
    within = np.exp(s[:, None] * np.arange(block_n) / rate_hz)
    wave = starts.real @ within.real - starts.imag @ within.imag
    return np.asarray(wave.ravel()[:sample_n])
