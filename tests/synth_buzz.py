"""Strings that buzz, with the physics of what they hit: known truths that share nothing with the analyzer.

Two kinds. A string that swings against an obstacle near its end (a lever, a disc, a neighbour): its modes step through
time, each by itself but for the obstacle's force, a stiff one-sided spring (penalty method, from memory: Bilbao, Torin
& Chatziioannou, Acta Acustica 101 (2015) 155). A loose part that the soundboard shakes: a ball on a moving table
(Holmes, J. Sound Vib. 84 (1982) 173, from memory), which leaves the table where that falls away faster than gravity and
clicks where it lands. Both stop once the string swings less. Sizes are estimates for invented harps, no source.
"""

import numpy as np
import scipy.signal

from tests.synth import LN_1000, PLUCK_RMS, Body, PluckSpec, Samples, usual_inharmonicity, usual_t60_s

MODES = 60


def striking(
    spec: PluckSpec, gap: float, duration_s: float, rate_hz: int, at: float = 0.08, stiffness_per_s2: float = 3e6
) -> Samples:
    """A plucked string and an obstacle below it at the share `at` of its length, `gap` away at rest.

    `gap` is a share of how far the string is pulled up there; large: never touched. The same losses as in `synth` but
    for bending, one polarisation. What is heard is the string's force on the soundboard.
    """
    n = np.arange(1, MODES + 1)
    b = usual_inharmonicity(spec.f1_hz)
    f_hz = n * spec.f1_hz * np.sqrt((1 + b * n**2) / (1 + b))
    n, f_hz = n[f_hz < 0.45 * rate_hz], f_hz[f_hz < 0.45 * rate_hz]
    fall_per_s = LN_1000 / usual_t60_s(spec.f1_hz) * (spec.air_share + (1 - spec.air_share) * f_hz / spec.f1_hz)
    fall_per_s += np.pi * f_hz * b * n**2 * spec.bending_loss
    width = np.exp(-((n * np.pi * spec.pluck_width) ** 2) / 2)
    q = np.sin(n * np.pi * spec.pluck_at) / n**2 * width
    shape = np.sin(n * np.pi * at)
    reach = gap * float(shape @ q)
    step_s = 1 / rate_hz
    again = 2 * np.exp(-fall_per_s * step_s) * np.cos(2 * np.pi * f_hz * step_s)
    before_that = -np.exp(-2 * fall_per_s * step_s)
    push = step_s**2 * stiffness_per_s2 * shape
    force_on_board = n * np.where(n % 2, 1.0, -1.0)
    old, heard = q.copy(), np.empty(int(duration_s * rate_hz))
    for k in range(heard.size):
        new = again * q + before_that * old
        into = -float(shape @ q) - reach
        if into > 0:
            new += push * into
        heard[k] = force_on_board @ q
        old, q = q, new
    spectrum = np.fft.rfft(heard)
    at_hz = np.maximum(np.fft.rfftfreq(heard.size, step_s), 1.0)
    sound = np.fft.irfft(spectrum * (spec.body or Body()).gain(at_hz), heard.size)
    return np.asarray(sound * PLUCK_RMS * 10 ** (spec.strength_db / 20) / _rms(sound, rate_hz))


def shaking(
    sound: Samples, f1_hz: float, rate_hz: int, rng: np.random.Generator, gravity: float = 0.3, level_db: float = -30.0
) -> Samples:
    """`sound` of a string and a loose part on the soundboard that it shakes.

    `gravity` as a share of the board's largest acceleration: how far the string must die away for silence. `level_db`:
    of the clicks against the string at first.
    """
    low = scipy.signal.butter(2, [0.5 * f1_hz, 3 * f1_hz], "band", fs=rate_hz, output="sos")
    board = np.asarray(scipy.signal.sosfilt(low, sound))
    speed = np.gradient(board)
    acceleration = np.gradient(speed)
    down = gravity * float(np.quantile(np.abs(acceleration[: rate_hz // 5]), 0.95))
    height, own, hits = 0.0, 0.0, np.zeros(len(sound))
    for k in range(len(sound)):
        if height <= 0 and acceleration[k] > -down and own <= speed[k]:
            height, own = 0.0, float(speed[k])
            continue
        own -= down
        height += own - float(speed[k])
        if height <= 0:
            hits[k] = speed[k] - own
            height, own = 0.0, float(speed[k] + 0.3 * hits[k])
    t_s = np.arange(int(0.006 * rate_hz)) / rate_hz
    tones = np.sin(2 * np.pi * rng.uniform(1500, 7000, (5, 1)) * t_s + rng.uniform(0, 2 * np.pi, (5, 1)))
    click = np.exp(-t_s / 0.0012) * tones.sum(axis=0)
    clicks = np.convolve(hits * rng.uniform(0.7, 1.3, len(hits)), click)[: len(sound)]
    level = 10 ** (level_db / 20) * _rms(sound, rate_hz) / max(_rms(clicks, rate_hz), 1e-12)
    return np.asarray(sound + level * clicks)


def _rms(sound: Samples, rate_hz: int) -> float:
    return float(np.sqrt(np.mean(sound[: rate_hz // 5] ** 2)))
