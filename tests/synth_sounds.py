"""What stands around the strings in a recording: disturbances, room, noise, and a phone's channel.

Conventions: mono float64 arrays in full-scale units, rates in Hz, everything drawn from the generator
handed in. The speech is a source-filter voice (glottal pulses with vibrato through formants; formant
frequencies from memory); the room an exponentially decaying noise; pink noise by Kellet's filter (from
memory). No code is shared with the analyzer.
"""

import io

import av
import numpy as np
from numpy.typing import NDArray
from scipy import signal

Samples = NDArray[np.float64]


def _band(samples: Samples, low_hz: float, high_hz: float, rate_hz: int) -> Samples:
    sections = signal.butter(2, [low_hz, min(high_hz, 0.45 * rate_hz)], "bandpass", fs=rate_hz, output="sos")
    return np.asarray(signal.sosfilt(sections, samples))


def _to_peak(samples: Samples, peak: float) -> Samples:
    return samples * (peak / np.max(np.abs(samples)))


def case_knock(rate_hz: int, rng: np.random.Generator) -> Samples:
    """A knuckle on the case or a table: a click and a few strongly damped low modes; 0.4 s, peak 1."""
    t_s = np.arange(int(0.4 * rate_hz)) / rate_hz
    modes_hz, t60_s = rng.uniform(90, 700, 6), rng.uniform(0.04, 0.18, 6)
    level, phase = rng.uniform(0.3, 1.0, 6), rng.uniform(0, 2 * np.pi, 6)
    wave = np.sin(2 * np.pi * modes_hz[:, None] * t_s + phase[:, None]) * np.exp(-6.9078 * t_s / t60_s[:, None])
    click = rng.standard_normal(t_s.size) * np.exp(-t_s / 0.002)
    return _to_peak(level @ wave + 0.5 * _band(click, 200, 6000, rate_hz), 1.0)


def tap(rate_hz: int, rng: np.random.Generator) -> Samples:
    """A finger tap on a table: shorter and duller than a knock on the case; 0.2 s, peak 1."""
    t_s = np.arange(int(0.2 * rate_hz)) / rate_hz
    noise = rng.standard_normal(t_s.size) * np.exp(-t_s / 0.012)
    return _to_peak(_band(noise, 120, rng.uniform(600, 1500), rate_hz), 1.0)


def metal_click(rate_hz: int, rng: np.random.Generator) -> Samples:
    """A lever, a key or a buckle: a few high, inharmonic, short modes; 0.15 s, peak 1."""
    t_s = np.arange(int(0.15 * rate_hz)) / rate_hz
    modes_hz = rng.uniform(1800, min(9000, 0.4 * rate_hz), 7)
    wave = np.sin(2 * np.pi * modes_hz[:, None] * t_s) * np.exp(-t_s / rng.uniform(0.004, 0.02, 7)[:, None])
    return _to_peak(rng.uniform(0.3, 1.0, 7) @ wave, 1.0)


def cough(rate_hz: int, rng: np.random.Generator) -> Samples:
    """One or two broad noise bursts with the mouth's resonances; 0.5-0.9 s, peak 1."""
    t_s = np.arange(int(rng.uniform(0.5, 0.9) * rate_hz)) / rate_hz
    envelope = np.zeros_like(t_s)
    for start_s in (0.0, rng.uniform(0.2, 0.35)):
        since_s = np.maximum(t_s - start_s, 0.0)
        envelope += (t_s >= start_s) * (1 - np.exp(-since_s / 0.008)) * np.exp(-since_s / 0.07)
    noise = rng.standard_normal(t_s.size) * envelope
    return _to_peak(_band(noise, 300, 1200, rate_hz) + 0.5 * _band(noise, 1500, 4500, rate_hz), 1.0)


def speech(duration_s: float, rate_hz: int, rng: np.random.Generator) -> Samples:
    """A voice: syllables of glottal pulses with falling, wavering pitch through formants; peak 1."""
    vowels_hz = ((730, 1090, 2440), (270, 2290, 3010), (300, 870, 2240), (530, 1840, 2480), (570, 840, 2410))
    total = np.zeros(int(duration_s * rate_hz))
    base_hz, start_s = rng.uniform(95, 240), 0.0
    while start_s < duration_s - 0.15:
        syllable_s = min(rng.uniform(0.12, 0.32), duration_s - start_s)
        t_s = np.arange(int(syllable_s * rate_hz)) / rate_hz
        slope, wobble = rng.uniform(-0.25, 0.1), rng.uniform(0.005, 0.02)
        pitch_hz = (
            base_hz * rng.uniform(0.9, 1.15) * (1 + slope * t_s / syllable_s + wobble * np.sin(2 * np.pi * 5.5 * t_s))
        )
        phase = np.cumsum(pitch_hz) / rate_hz
        pulses = np.diff(np.floor(phase), prepend=0.0) + 0.02 * rng.standard_normal(t_s.size)
        source = np.asarray(signal.lfilter([1.0], [1.0, -0.96], pulses))
        voice = np.zeros_like(source)
        for formant_hz, level in zip(vowels_hz[rng.integers(5)], (1.0, 0.5, 0.2), strict=True):
            b, a = signal.iirpeak(formant_hz, formant_hz / 90, fs=rate_hz)
            voice += level * np.asarray(signal.lfilter(b, a, source))
        start_n = int(start_s * rate_hz)
        voice *= np.hanning(voice.size)
        total[start_n : start_n + voice.size] += voice[: total.size - start_n]
        start_s += syllable_s + (rng.uniform(0.15, 0.3) if rng.random() < 0.25 else rng.uniform(0.0, 0.05))
    return _to_peak(total, 1.0)


def background_noise(sample_n: int, rng: np.random.Generator, pink_share: float = 0.7) -> Samples:
    """White and pink noise, root mean square 1; `pink_share` is the pink part's share of the power."""
    b = [0.049922035, -0.095993537, 0.050612699, -0.004408786]
    a = [1.0, -2.494956002, 2.017265875, -0.522189400]
    pink = np.asarray(signal.lfilter(b, a, rng.standard_normal(sample_n)))
    white = rng.standard_normal(sample_n)
    return np.asarray(np.sqrt(pink_share) * pink / pink.std() + np.sqrt(1 - pink_share) * white)


def in_room(samples: Samples, t60_s: float, rate_hz: int, rng: np.random.Generator, reverb_db: float = -9.0) -> Samples:
    """The sound with a room: noise that dies by 60 dB in `t60_s`, its energy `reverb_db` to the direct."""
    t_s = np.arange(int(t60_s * rate_hz)) / rate_hz
    tail = rng.standard_normal(t_s.size) * np.exp(-6.9078 * t_s / t60_s)
    tail[: int(0.004 * rate_hz)] = 0.0
    tail *= 10 ** (reverb_db / 20) / np.sqrt(np.sum(tail**2))
    tail[0] += 1.0
    return np.asarray(signal.oaconvolve(samples, tail))[: samples.size]


def automatic_gain(samples: Samples, rate_hz: int, target_rms: float = 0.1, most_db: float = 15.0) -> Samples:
    """A phone's level control: down within some 30 ms, up at 8 dB a second, by at most `most_db`."""
    block_n = int(0.01 * rate_hz)
    block_count = -(-samples.size // block_n)
    padded = np.zeros(block_count * block_n)
    padded[: samples.size] = samples
    rms = np.sqrt(np.mean(padded.reshape(block_count, block_n) ** 2, axis=1)) + 1e-6
    wanted_db = np.clip(20 * np.log10(target_rms / rms), -most_db, most_db)
    gains_db = np.empty(block_count)
    gain_db = 0.0
    for i, wish_db in enumerate(wanted_db):
        gain_db += max(0.3 * (wish_db - gain_db), -6.0) if wish_db < gain_db else min(wish_db - gain_db, 0.08)
        gains_db[i] = gain_db
    at_n = np.arange(samples.size)
    smooth_db = np.interp(at_n, (np.arange(block_count) + 0.5) * block_n, gains_db)
    return np.asarray(samples * 10 ** (smooth_db / 20))


def expanded(
    samples: Samples,
    rate_hz: int,
    below_db: float = -30.0,
    ratio: float = 2.0,
    most_db: float = 15.0,
    release_s: float = 0.02,
) -> Samples:
    """A noise gate: down by `ratio` - 1 dB for each dB that the level lies below `below_db`, by `most_db` at most.

    The level is the largest sample of each millisecond, and falls e-fold in `release_s` at the fastest.
    """
    step_n = rate_hz // 1000
    peaks = np.abs(np.pad(samples, (0, -samples.size % step_n))).reshape(-1, step_n).max(axis=1)
    held, kept, falls = 0.0, np.empty(peaks.size), float(np.exp(-0.001 / release_s))
    for i, peak in enumerate(peaks.tolist()):
        kept[i] = held = max(peak, falls * held)
    gains_db = np.clip((ratio - 1) * (20 * np.log10(kept + 1e-6) - below_db), -most_db, 0)
    smooth_db = np.interp(np.arange(samples.size), step_n * (np.arange(peaks.size) + 0.5), gains_db)
    return np.asarray(samples * 10 ** (smooth_db / 20))


def aac_file(samples: Samples, rate_hz: int, bit_rate: int = 64_000) -> bytes:
    """The sound as an m4a file (AAC in MP4), as a phone sends it."""
    file = io.BytesIO()
    with av.open(file, "w", format="mp4") as container:
        stream = container.add_stream("aac", rate=rate_hz, layout="mono")
        stream.bit_rate = bit_rate
        chunk_n = 1024 * 64
        for start_n in range(0, samples.size, chunk_n):
            chunk = samples[start_n : start_n + chunk_n].astype(np.float32)
            frame = av.AudioFrame.from_ndarray(chunk[None, :], format="fltp", layout="mono")
            frame.sample_rate = rate_hz
            frame.pts = start_n
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return file.getvalue()


def aac_decoded(file: bytes) -> Samples:
    """The samples of an m4a file of `aac_file`."""
    with av.open(io.BytesIO(file)) as container:
        frames = [frame.to_ndarray()[0] for frame in container.decode(audio=0)]
    return np.concatenate(frames).astype(np.float64)


def phone_channel(
    samples: Samples,
    rate_hz: int,
    *,
    highpass_hz: float = 180.0,
    gain_control: bool = True,
    codec: bool = True,
) -> Samples:
    """The sound as a phone records it: small microphone, level control, AAC; same length as before."""
    sections = signal.butter(3, highpass_hz, "highpass", fs=rate_hz, output="sos")
    heard = np.asarray(signal.sosfilt(sections, samples))
    if gain_control:
        heard = automatic_gain(heard, rate_hz)
    heard = np.clip(heard, -1.0, 1.0)
    if codec:
        decoded = aac_decoded(aac_file(heard, rate_hz))
        heard = np.pad(decoded, (0, max(0, samples.size - decoded.size)))[: samples.size]
    return heard
