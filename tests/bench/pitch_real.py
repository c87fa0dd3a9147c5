"""Real notes for the pitch bench: single notes of a concert harp, and recordings whose truth lies beside them.

The truth of a real note is its definition taken literally on the clean note: instantaneous frequency of the first
partial's analytic signal, weighted by energy. Notes where that and the plain spectrum differ by more than `TRUST_CENTS`
are left out: their truth is not known well enough to judge by.
"""

import csv
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from analyzer.recording import read_recording
from analyzer.settings import RecordingSettings
from tests.bench.pitch_notes import LEAD_S, RATE_HZ, Channel, Samples
from tests.harp_notes import TARGETS_HZ, load_notes, plain_cents
from tests.synth_sounds import background_noise, phone_channel

TRUST_CENTS = 2.0
NOISE_DB = 45.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RealNote:
    """One real pluck."""

    samples: Samples
    """From `LEAD_S` before the onset."""
    rate_hz: int
    duration_s: float
    pitch_hz: float
    target_hz: float
    channel: Channel


def literal_hz(note: Samples, near_hz: float) -> float:
    """The definition on a clean note from its onset: analytic signal within ±0.35 of the first partial."""
    spectrum = np.fft.fft(note)
    hz = np.fft.fftfreq(note.size, 1 / RATE_HZ)
    off = np.abs(hz - near_hz) / (0.35 * near_hz)
    z = np.fft.ifft(np.where((hz > 0) & (off < 1), 2 * spectrum * np.cos(np.pi / 2 * np.minimum(off, 1)) ** 2, 0))
    z = z[int((0.05 if near_hz > 1500 else 0.15) * RATE_HZ) : int(1.35 * RATE_HZ)]
    return float(np.angle(np.sum(z[1:] * np.conj(z[:-1]))) * RATE_HZ / (2 * np.pi))


def concert_notes(folder: Path, channel: Channel, seed: int = 3) -> Iterator[RealNote]:
    """The notes of `tests.harp_notes`, in noise, as recorded by a plain recorder or a phone."""
    rng = np.random.default_rng(seed)
    for name, note in load_notes(folder).items():
        plain = plain_cents(note, name)
        if plain is None:
            continue
        plain_hz = TARGETS_HZ[name] * 2 ** (plain / 1200)
        pitch_hz = literal_hz(note, plain_hz)
        if abs(1200 * np.log2(pitch_hz / plain_hz)) > TRUST_CENTS:
            continue
        note = note[: 3 * RATE_HZ]
        heard = np.concatenate([np.zeros(round(LEAD_S * RATE_HZ)), note, np.zeros(RATE_HZ // 5)])
        heard = heard / np.max(np.abs(heard)) * 0.5
        heard += 0.5 * 10 ** (-NOISE_DB / 20) * background_noise(heard.size, rng)
        if channel == "phone":
            heard = phone_channel(heard, RATE_HZ)
        yield RealNote(
            samples=heard,
            rate_hz=RATE_HZ,
            duration_s=note.size / RATE_HZ,
            pitch_hz=pitch_hz,
            target_hz=TARGETS_HZ[name],
            channel=channel,
        )


def recorded_notes(folder: Path) -> Iterator[RealNote]:
    """Every pluck of the recordings in `folder` whose truth is known to `TRUST_CENTS`.

    Each recording's folder holds `case.json` ("file", the recording's name) and `truth.csv` with `time_s`, `string`,
    `cents_true` (against `nominal_hz`) and `tol`.
    """
    for case in sorted(folder.glob("*/case.json")):
        told = json.loads(case.read_text(encoding="utf-8"))
        recording = read_recording(case.parent / told["file"], RecordingSettings())
        with (case.parent / "truth.csv").open(encoding="utf-8", newline="") as table:
            rows = list(csv.DictReader(table))
        ends_s = [*(float(row["time_s"]) for row in rows[1:]), recording.info.duration_s]
        for row, end_s in zip(rows, ends_s, strict=True):
            if float(row["tol"]) > TRUST_CENTS:
                continue
            onset_s, rate_hz = float(row["time_s"]), recording.rate_hz
            start = round((onset_s - LEAD_S) * rate_hz)
            target_hz = float(row["nominal_hz"])
            yield RealNote(
                samples=recording.samples.read(start, round(end_s * rate_hz)).astype(np.float64),
                rate_hz=rate_hz,
                duration_s=end_s - onset_s,
                pitch_hz=target_hz * 2 ** (float(row["cents_true"]) / 1200),
                target_hz=target_hz,
                channel="phone" if "phone" in told["name"] else "studio",
            )
