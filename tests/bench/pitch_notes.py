"""Single plucks with exact truth for the pitch bench, and real notes for the comparison.

Conventions. A note is mono samples with noise alone for `LEAD_S` before the onset. Truths follow the definition of
pitch: the first partial's instantaneous frequency weighted by its energy over 0.15-1.35 s after the onset (0.05 s above
1.5 kHz) or to where the hand muffles the string. The truth comes from the dry string, so that it ignores where the
first partial sinks into the noise: what sinks there carries less than a thousandth of the energy, but for notes whose
first partial never stood clear, where the whole window is the only one left. Registers: bass below C3, middle to below
C5, treble from C5.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from tests import synth_sounds
from tests.synth import PLUCK_RMS, NoteTruth, PluckSpec, pluck, usual_inharmonicity, usual_t60_s

Samples = NDArray[np.float64]
Channel = Literal["studio", "highpass", "phone"]

RATE_HZ = 44100
LEAD_S = 0.8
TAIL_S = 0.2
SEED_CENTS = 30.0
"""The evidence places a first partial within this."""
TARGET_CENTS = 700.0
"""A string is tuned at most this far from its target."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One pluck as recorded."""

    samples: Samples
    duration_s: float
    """From the onset to where the hand muffles it."""
    truth: NoteTruth
    channel: Channel
    seed_hz: float
    """Truth off by up to `SEED_CENTS`."""
    target_hz: float
    """Truth off by up to `TARGET_CENTS`."""
    stiffness: tuple[float, float] | None
    """What a layout would say of B, with the natural log of the factor by which it may be off."""
    noise_rms: float

    @property
    def register(self) -> str:
        """Bass, middle or treble."""
        return "bass" if self.truth.f1_hz < 130.8 else "middle" if self.truth.f1_hz < 523.2 else "treble"


class Held:
    """An array as a `Sound`."""

    def __init__(self, samples: Samples) -> None:
        self._samples = samples.astype(np.float32)

    def __len__(self) -> int:
        return len(self._samples)

    def read(self, start: int, stop: int) -> NDArray[np.float32]:
        block = np.zeros(max(stop - start, 0), np.float32)
        lo, hi = max(start, 0), min(stop, len(self._samples))
        if hi > lo:
            block[lo - start : hi - start] = self._samples[lo:hi]
        return block


def mixed_notes(count: int, seed: int, channel: Channel | None = None) -> Iterator[Note]:
    """C1-G7, 1-4 s, noise 20-50 dB below, glide 0-8 cents, split partials, knock and room.

    A third each through a plain recorder, a high-pass of 90-220 Hz and a phone, or all through `channel`.
    """
    channels: tuple[Channel, ...] = ("studio", "highpass", "phone")
    for k, rng in enumerate(np.random.default_rng(seed).spawn(count)):
        yield _mixed(rng, channel or channels[k % 3])


def paired_notes(count: int, seed: int) -> Iterator[tuple[Note, Note]]:
    """Two plucks each of one string in one state: place, strength, glide, finger and knock differ, and the noise."""
    for rng in np.random.default_rng(seed).spawn(count):
        spec = _string(rng)
        channel: Channel = "phone" if rng.random() < 0.5 else "studio"
        first, second = (_recorded(_plucked(spec, (0.0, 4.0), rng), channel, rng) for _ in range(2))
        yield first, second


def _mixed(rng: np.random.Generator, channel: Channel) -> Note:
    return _recorded(_plucked(_string(rng), (0.0, 8.0), rng), channel, rng)


def _string(rng: np.random.Generator) -> PluckSpec:
    f1_hz = 32.70 * 2 ** float(rng.uniform(0, 79 / 12))
    is_false = rng.random() < 0.15
    most_hz = 0.00116 * f1_hz  # 2 cents
    return PluckSpec(
        f1_hz=f1_hz,
        inharmonicity=usual_inharmonicity(f1_hz) * float(np.exp(0.3 * rng.standard_normal())),
        t60_s=usual_t60_s(f1_hz) * float(np.exp(0.15 * rng.standard_normal())),
        damping_factor=float(rng.choice([1.0, 1.0, 1.0, 2.0])),
        split_hz=min(float(rng.uniform(0.3, 0.9)), 3 * most_hz) if is_false else min(rng.uniform(0, 0.25), most_hz),
        second_db=-5.0 if is_false else float(rng.uniform(-20, -8)),
        second_decay_ratio=float(rng.uniform(1.0, 1.5)),
    )


def _plucked(string: PluckSpec, glide_cents: tuple[float, float], rng: np.random.Generator) -> PluckSpec:
    return replace(
        string,
        pluck_at=float(rng.uniform(0.22, 0.48)),
        pluck_width=float(rng.uniform(0.012, 0.03)),
        strength_db=float(rng.uniform(-6, 3)),
        glide_cents=float(rng.uniform(*glide_cents)),
        glide_s=float(rng.uniform(0.15, 0.5)),
        finger_db=float(rng.uniform(-18, -8)),
        knock_db=float(rng.uniform(-20, -10)),
    )


def _recorded(spec: PluckSpec, channel: Channel, rng: np.random.Generator) -> Note:
    duration_s = float(rng.uniform(1.0, 4.0))
    dry, truth = pluck(spec, duration_s + TAIL_S, RATE_HZ, rng, heard_s=duration_s)
    dry *= np.exp(-np.maximum(np.arange(dry.size) / RATE_HZ - duration_s, 0) / 0.025)
    dry = np.concatenate([np.zeros(round(LEAD_S * RATE_HZ)), dry])
    heard = synth_sounds.in_room(dry, float(rng.uniform(0.2, 0.6)), RATE_HZ, rng, float(rng.uniform(-14, -8)))
    if channel != "studio":  # a microphone that drops the bass does so before its own noise
        sections = signal.butter(3, float(rng.uniform(90, 220)), "highpass", fs=RATE_HZ, output="sos")
        heard = np.asarray(signal.sosfilt(sections, heard))
    noise_rms = PLUCK_RMS * 10 ** ((spec.strength_db - float(rng.uniform(20, 50))) / 20)
    heard = heard + noise_rms * synth_sounds.background_noise(heard.size, rng)
    heard *= min(1.0, 0.9 / float(np.max(np.abs(heard))))
    if channel == "phone":
        heard = synth_sounds.phone_channel(heard, RATE_HZ, highpass_hz=20.0)
    return Note(
        samples=heard,
        duration_s=duration_s,
        truth=truth,
        channel=channel,
        seed_hz=truth.pitch_hz * 2 ** (float(rng.uniform(-SEED_CENTS, SEED_CENTS)) / 1200),
        target_hz=truth.pitch_hz * 2 ** (float(rng.uniform(-TARGET_CENTS, TARGET_CENTS)) / 1200),
        stiffness=None
        if rng.random() < 0.3
        else (truth.inharmonicity * float(np.exp(0.3 * rng.standard_normal())), 0.35),
        noise_rms=noise_rms,
    )


def stationary_notes(count: int, seed: int) -> Iterator[Note]:
    """Damped partials that obey the law, no glide, no second polarisation, no body, in white noise alone."""
    for rng in np.random.default_rng(seed).spawn(count):
        f1_hz = 32.70 * 2 ** float(rng.uniform(0, 79 / 12))
        duration_s = float(rng.uniform(1.0, 4.0))
        spec = PluckSpec(
            f1_hz=f1_hz,
            second_db=-np.inf,
            glide_cents=0.0,
            finger_db=-np.inf,
            knock_db=-np.inf,
            body=None,
            pluck_at=float(rng.uniform(0.22, 0.48)),
        )
        dry, truth = pluck(spec, duration_s + TAIL_S, RATE_HZ, rng)
        noise_rms = PLUCK_RMS * 10 ** (-float(rng.uniform(20, 50)) / 20)
        whole = np.concatenate([np.zeros(round(LEAD_S * RATE_HZ)), dry])
        yield Note(
            samples=whole + noise_rms * rng.standard_normal(whole.size),
            duration_s=duration_s,
            truth=truth,
            channel="studio",
            seed_hz=truth.pitch_hz * 2 ** (float(rng.uniform(-SEED_CENTS, SEED_CENTS)) / 1200),
            target_hz=truth.pitch_hz,
            stiffness=None,
            noise_rms=noise_rms,
        )


def cramer_rao_cents(note: Note) -> tuple[float, float]:
    """Least standard deviation of the first partial's frequency in white noise over the window of the definition.

    From the first partial alone, and from all partials through the stiff-string law with B unknown; in both the
    phases, amplitudes and decay rates are unknown too. For a damped sinusoid frequency and phase decouple from
    amplitude and decay (Hua & Sarkar, IEEE Trans. ASSP 38 (1990) 814).
    """
    truth = note.truth
    start_s = 0.05 if truth.f1_hz > 1500 else 0.15
    t_s = np.arange(int(start_s * RATE_HZ), int(min(1.35, note.duration_s) * RATE_HZ)) / RATE_HZ
    levels = 10 ** (np.array([p.level_db for p in truth.partials]) / 20)
    levels *= PLUCK_RMS * np.sqrt(2 / np.sum(levels**2))
    information = []  # on ln f of each partial, phase profiled out
    for partial, level in zip(truth.partials, levels, strict=True):
        power = level**2 * np.exp(-2 * np.log(1000) / partial.t60_s * t_s) / (2 * note.noise_rms**2)
        spread = np.sum(power * t_s**2) - np.sum(power * t_s) ** 2 / np.sum(power)
        information.append((2 * np.pi * partial.frequency_hz) ** 2 * spread)
    n = np.array([p.number for p in truth.partials], dtype=float)
    b = truth.inharmonicity
    slope = n**2 / (2 * (1 + b * n**2)) - 1 / (2 * (1 + b))  # d ln f_n / dB at fixed f_1
    columns = np.column_stack([np.ones_like(n), slope])
    joint = np.linalg.inv((columns * np.array(information)[:, None]).T @ columns)
    cents = 1200 / np.log(2)
    return cents / float(np.sqrt(information[0])), cents * float(np.sqrt(joint[0, 0]))
