"""Files to a Recording: one channel of sound at the analysis rate, and what is known of the recording.

Task: decode (`decoding`), combine the channels (`channels`), resample, keep the sound where memory allows
or on disk where not, and check the recording up on the way (`checkup`), all in one pass over the file.

Conventions: samples are float32, full scale 1; times are in seconds from the first frame that the file
presents; the resampler's own delay is taken out (soxr, linear phase), so that a sample's time is its index
/ rate.
"""

import hashlib
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Literal

import numpy as np
from numpy.typing import NDArray

from analyzer.errors import UnusableInput, shown
from analyzer.meters import Levels
from analyzer.settings import RecordingSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing the check-up found about the recording, in words for a beginner."""

    code: str
    """Stable short name: `clipping`, `quiet`, `noise`, `hum`, `bandwidth`, `automatic gain`, `gate`,
    `gap`, `too close`, …"""
    severity: Literal["note", "warning", "serious"]
    what: str
    """What was found, with its figure and where."""
    spoils: str
    """What it spoils (pitch, decay, the judgement of dull strings, …)."""
    remedy: str
    """How to record it better."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingInfo:
    """What is known of one recording besides its sound."""

    name: str
    """File name without its folder."""
    sha256: str
    duration_s: float
    source_rate_hz: int
    channels: int
    codec: str
    """As the decoder names it: `flac`, `aac`, `pcm_16`, …"""
    peak_db: float
    """Highest sample, dB below full scale."""
    noise_floor_db: float
    """RMS of the quietest stretches, dB below full scale."""
    bandwidth_hz: float
    """Highest frequency that still carries sound."""
    hum_hz: float | None
    """50 or 60 where mains hum stands out, else None."""
    automatic_gain: bool
    """True where the recorder seems to have changed its gain by itself."""
    findings: tuple[Finding, ...]
    clipped_at_s: tuple[float, ...] = ()
    """Where samples at full scale, or cut off at another level, were found: one time for each place."""
    gaps_s: tuple[tuple[float, float], ...] = ()
    """(start, end) of each stretch where the sound breaks off."""
    channel_weights: tuple[float, ...] = (1.0,)
    """What each channel counts for in the sum: negative where it was turned round, 0 where it is dead."""


class _Spool:
    """A temporary file that is closed, and so deleted, with the last object that holds it."""

    def __init__(self) -> None:
        self.file: IO[bytes] = tempfile.TemporaryFile()  # noqa: SIM115 - closed in __del__

    def __del__(self) -> None:
        self.file.close()


class Samples:
    """The sound of a recording, in memory or in a temporary file that goes with the object."""

    def __init__(self, held: NDArray[np.float32] | _Spool, length_n: int) -> None:
        self._held = held
        self._length_n = length_n

    def __len__(self) -> int:
        return self._length_n

    def read(self, start: int, stop: int) -> NDArray[np.float32]:
        """Samples [start, stop), zeros outside the recording. May be a read-only view: copy before
        changing."""
        inner_start, inner_stop = max(0, start), min(self._length_n, stop)
        if inner_stop <= inner_start:
            return np.zeros(max(0, stop - start), np.float32)
        inner = self._inside(inner_start, inner_stop)
        if (inner_start, inner_stop) == (start, stop):
            return inner
        padded = np.zeros(stop - start, np.float32)
        padded[inner_start - start : inner_stop - start] = inner
        return padded

    def blocks(self, size: int, overlap: int = 0) -> Iterator[tuple[int, NDArray[np.float32]]]:
        """(start, samples) of blocks of `size`, each sharing `overlap` samples with the next; the last may
        be short."""
        for start in range(0, max(1, self._length_n - overlap), size - overlap):
            yield start, self.read(start, min(start + size, self._length_n))

    def _inside(self, start: int, stop: int) -> NDArray[np.float32]:
        if isinstance(self._held, np.ndarray):
            return self._held[start:stop]
        self._held.file.seek(start * np.dtype(np.float32).itemsize)
        read = self._held.file.read((stop - start) * np.dtype(np.float32).itemsize)
        return np.frombuffer(read, np.float32)


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """One recording, ready for the stages."""

    samples: Samples
    """One channel, float32, at `rate_hz`."""
    rate_hz: int
    info: RecordingInfo
    """With what the check-up found before any pluck is known."""
    levels: Levels
    """Level and hiss over time (`checkup.review_with_plucks` needs them)."""


class _Store:
    """Takes samples as they come; beyond `in_memory_n` they go to a temporary file."""

    def __init__(self, expected_n: int, in_memory_n: int) -> None:
        self._in_memory_n = in_memory_n
        self._array = np.empty(min(expected_n, in_memory_n) + 1, np.float32)
        self._spool: _Spool | None = None
        self._length_n = 0

    def add(self, block: NDArray[np.float32]) -> None:
        end = self._length_n + len(block)
        if self._spool is None and end > self._in_memory_n:
            self._spool = _Spool()
            self._spool.file.write(self._array[: self._length_n].data)
            self._array = np.empty(0, np.float32)
        if self._spool is not None:
            self._spool.file.write(np.ascontiguousarray(block).data)
        else:
            if end > len(self._array):
                self._array.resize(min(2 * end, self._in_memory_n), refcheck=False)
            self._array[self._length_n : end] = block
        self._length_n = end

    def finish(self) -> Samples:
        if self._spool is not None:
            self._spool.file.flush()
            return Samples(self._spool, self._length_n)
        self._array.resize(self._length_n, refcheck=False)
        self._array.flags.writeable = False
        return Samples(self._array, self._length_n)


def read_recording(path: Path, settings: RecordingSettings) -> Recording:
    """Read a recording of any kind.

    Raises UnusableInput, one sentence, for whatever cannot be used: not sound, empty, silent, out of
    bounds, …
    """
    import soxr

    from analyzer.channels import channel_weights
    from analyzer.checkup import findings_without_plucks
    from analyzer.decoding import open_source, too_long
    from analyzer.meters import Meters

    source = open_source(path, settings)
    try:
        weights = channel_weights(source, settings)
        meters = Meters(source.rate_hz, settings)
        rate_hz = settings.rate_hz
        store = _Store(
            int(source.declared_n * rate_hz / source.rate_hz) + rate_hz,
            int(settings.in_memory_s * rate_hz),
        )
        resampler = soxr.ResampleStream(source.rate_hz, rate_hz, 1, dtype="float32", quality="HQ")
        read_n = 0
        for raw in source.blocks():
            read_n += len(raw)
            if read_n > settings.longest_s * source.rate_hz:
                raise too_long(path, settings)
            block = meters.mend(raw)
            mono = np.ascontiguousarray(block[:, 0]) if len(weights) == 1 else block @ weights
            meters.take_source(mono)
            resampled = resampler.resample_chunk(mono)
            meters.take_analysis(resampled)
            store.add(resampled)
        tail = resampler.resample_chunk(np.empty(0, np.float32), last=True)
        meters.take_analysis(tail)
        store.add(tail)
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as e:
        raise UnusableInput(f"{shown(path)}: reading stopped ({e.strerror}); check the disk and its free space.") from e
    finally:
        source.close()
    if not meters.peak > 10 ** (settings.silent_db / 20):
        raise UnusableInput(
            f"{shown(path)}: "
            + ("nothing but silence is in it" if read_n else "no sound could be read from it")
            + "; check the microphone and record again."
        )
    measured = meters.finish()
    info = RecordingInfo(
        name=shown(Path(path.name)),
        sha256=digest,
        duration_s=read_n / source.rate_hz,
        source_rate_hz=source.rate_hz,
        channels=source.channels,
        codec=source.codec,
        peak_db=measured.peak_db,
        noise_floor_db=measured.noise_floor_db,
        bandwidth_hz=measured.bandwidth_hz,
        hum_hz=measured.hum_hz,
        automatic_gain=False,
        findings=findings_without_plucks(measured, read_n / source.rate_hz, source.lost, settings),
        clipped_at_s=measured.clipped_at_s,
        gaps_s=measured.gaps_s,
        channel_weights=tuple(round(float(w), 4) for w in weights),
    )
    return Recording(samples=store.finish(), rate_hz=rate_hz, info=info, levels=measured.levels)
