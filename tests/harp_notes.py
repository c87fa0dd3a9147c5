"""Real notes of a concert harp, fetched by the test that wants them, and put together into recordings.

The 23 notes are those of the npm package `tonejs-instrument-harp-wav` 1.1.0 (samples of the tonejs-instruments
project, licensed CC BY 3.0, https://creativecommons.org/licenses/by/3.0/). They are altered here: bent by resampling,
shortened, damped, put in a row, noise added. They are fetched with `npm pack` into a cache folder outside version
control, never into the project; where npm or the network is missing the tests skip and say so.

Conventions: notes at 44.1 kHz, mono, from their onset on; names are strings of a harp tuned in C (`Eb` occurs in none
of them); cents against equal temperament at A4 = 440 Hz.
"""

import io
import shutil
import subprocess
import tarfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
import soundfile
import soxr
from numpy.typing import NDArray

from tests.synth_harp import harp_strings
from tests.synth_sounds import background_noise

Samples = NDArray[np.float64]

PACKAGE, VERSION = "tonejs-instrument-harp-wav", "1.1.0"
RATE_HZ = 44100
TARGETS_HZ = dict(harp_strings("C1", "G7", flats=""))
ONSET_SHARE = 0.05
"""Of the peak: a note starts where it first gets so loud, less 3 ms for the rise."""


class NotesUnavailableError(Exception):
    """The package could not be fetched; the text says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NotePluck:
    """Truth of one pluck in an assembled recording."""

    onset_s: float
    string: str
    shift_cents: float
    """By how much the note was bent."""
    cents: float | None
    """Deviation as bent, by a plain spectrum (`plain_cents`); None where the first partial is too weak for that."""
    damping_factor: float


class NotesTake(NamedTuple):
    samples: Samples
    rate_hz: int
    plucks: tuple[NotePluck, ...]


def fetch_package(folder: Path) -> Path:
    """Path of the package's archive in `folder`, fetched once. Raises NotesUnavailableError."""
    archive = folder / f"{PACKAGE}-{VERSION}.tgz"
    if archive.is_file():
        return archive
    npm = shutil.which("npm")
    if npm is None:
        raise NotesUnavailableError("npm is not installed")
    folder.mkdir(parents=True, exist_ok=True)
    try:
        subprocess.run(
            [npm, "pack", f"{PACKAGE}@{VERSION}", "--pack-destination", str(folder)],
            check=True,
            capture_output=True,
            timeout=180,
        )
    except (subprocess.SubprocessError, OSError) as error:
        raise NotesUnavailableError(f"npm could not fetch {PACKAGE} {VERSION}: {error}") from error
    return archive


def load_notes(folder: Path) -> dict[str, Samples]:
    """String -> its note from the onset on, lowest first; fetched into `folder` when not there."""
    notes = {}
    with tarfile.open(fetch_package(folder)) as archive:
        for member in archive:
            file = archive.extractfile(member)
            if member.name.endswith(".wav") and file is not None:
                samples, rate_hz = soundfile.read(io.BytesIO(file.read()))
                assert rate_hz == RATE_HZ
                loud = np.abs(samples) > ONSET_SHARE * np.max(np.abs(samples))
                notes[Path(member.name).stem] = samples[max(0, int(np.argmax(loud)) - int(0.003 * RATE_HZ)) :]
    return {name: notes[name] for name in TARGETS_HZ if name in notes}


def notes_or_skip(config: pytest.Config) -> dict[str, Samples]:
    """`load_notes` from pytest's cache folder; skips the test that asks where the notes cannot be had."""
    assert config.cache is not None
    try:
        return load_notes(config.cache.mkdir("harp-notes"))
    except NotesUnavailableError as error:
        pytest.skip(f"the concert harp's notes are not to be had: {error}")


def plain_cents(note: Samples, string: str) -> float | None:
    """Deviation of the first partial's spectral peak over 0.15-1.35 s after the onset (from 0.05 s above 1.5 kHz).

    None where that partial lies more than 20 dB under the strongest.
    """
    target_hz = TARGETS_HZ[string]
    part = note[int((0.05 if target_hz > 1500 else 0.15) * RATE_HZ) : int(1.35 * RATE_HZ)]
    spectrum = np.abs(np.fft.rfft(part * np.hanning(part.size), 16 * part.size))
    at_hz = np.fft.rfftfreq(16 * part.size, 1 / RATE_HZ)
    near = np.flatnonzero(np.abs(at_hz / target_hz - 1) < 0.25)
    i = near[np.argmax(spectrum[near])]
    if spectrum[i] < 0.1 * spectrum.max():
        return None
    left, mid, right = np.log(spectrum[i - 1 : i + 2])
    peak_hz = at_hz[i] + 0.5 * (left - right) / (left - 2 * mid + right) * at_hz[1]
    return float(1200 * np.log2(peak_hz / target_hz))


def bent(note: Samples, cents: float) -> Samples:
    """The note resampled to sound `cents` higher (and die as much faster)."""
    return np.asarray(soxr.resample(note, RATE_HZ * 2 ** (cents / 1200), RATE_HZ, quality="VHQ"))


def damped(note: Samples, factor: float) -> Samples:
    """The note with its own overall decay rate times `factor`, the same for all partials."""
    energy = np.cumsum(note[::-1] ** 2)[::-1]
    curve_db = 10 * np.log10(energy / energy[0] + 1e-12)
    used = (curve_db <= -5) & (curve_db >= -25)
    db_per_sample = np.polyfit(np.flatnonzero(used), curve_db[used], 1)[0]
    return np.asarray(note * 10 ** ((factor - 1) * db_per_sample * np.arange(note.size) / 20))


def assemble(
    notes: Mapping[str, Samples],
    rng: np.random.Generator,
    *,
    shift_cents: Mapping[str, float] | None = None,
    damping: Mapping[str, float] | None = None,
    descending: bool = False,
    repeated: tuple[str, ...] = (),
    gap_s: tuple[float, float] = (2.4, 3.5),
    snr_db: float = 50.0,
) -> NotesTake:
    """These notes plucked in order, each muffled just before the next, in noise `snr_db` under the notes' peaks."""
    names = [name for name in TARGETS_HZ if name in notes]
    names = [name for name in (reversed(names) if descending else names) for _ in range(1 + (name in repeated))]
    shifts, factors = shift_cents or {}, damping or {}
    onsets_s = np.round(1.5 + np.concatenate([[0.0], np.cumsum(rng.uniform(*gap_s, len(names)))]), 4)
    fade_n = int(0.08 * RATE_HZ)
    samples = np.zeros(int(onsets_s[-1] * RATE_HZ) + 1)
    plucks = []
    peak = 0.0
    for i, name in enumerate(names):
        shift, factor = shifts.get(name, 0.0), factors.get(name, 1.0)
        wave = damped(bent(notes[name], shift), factor)
        own = plain_cents(notes[name], name)
        start_n = round(onsets_s[i] * RATE_HZ)
        wave = wave[: round(onsets_s[i + 1] * RATE_HZ) - start_n] * 10 ** (rng.uniform(-6, 0) / 20)
        wave[-fade_n:] *= np.linspace(1.0, 0.0, fade_n)
        samples[start_n : start_n + wave.size] += wave
        peak = max(peak, float(np.max(np.abs(wave))))
        plucks.append(
            NotePluck(
                onset_s=float(onsets_s[i]),
                string=name,
                shift_cents=shift,
                cents=None if own is None else own + shift,
                damping_factor=factor,
            )
        )
    samples += peak * 10 ** (-snr_db / 20) * background_noise(samples.size, rng)
    return NotesTake(samples / max(1.0, float(np.max(np.abs(samples))) / 0.95), RATE_HZ, tuple(plucks))
