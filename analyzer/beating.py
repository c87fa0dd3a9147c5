"""Partials that beat: two close tones where a sound string has one, how far apart and how strong.

Task. A false string (uneven, kinked, a winding come loose) vibrates at slightly different frequencies in different
planes; so does, less, a sound one; and a neighbour's string may answer. From one pluck: for each partial the rate of
its beat, with its interval, and the level of the weaker tone.

Method. The power of two decaying tones, A²exp(-2at) + B²exp(-2bt) + 2AB·exp(-(a+b)t)·cos(2πrt + p), is fitted to the
power in a narrow band by least squares of its logarithm. The power knows nothing of a glide that both tones share,
which the phase does. A first guess of the rate comes from a straight line with a sinusoid of each rate in turn. A beat
counts where it leaves much less misfit than the straight line does.

Conventions. Rates in Hz, levels of the weaker tone against the stronger in dB, splits in cents of the partial.

Known limits. Rates slower than about 0.7 of a turn in the time heard cannot be told from a bent decay; faster ones than
`most_hz` would take more bandwidth than neighbouring partials leave. A third tone is taken for misfit.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.bands import PluckBands, noise_power
from analyzer.settings import FalseSettings

Vector = NDArray[np.float64]

CENTS = 1200 / np.log(2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """The beat of one partial."""

    number: int
    frequency_hz: float
    rate_hz: float
    rate_u95_hz: float
    weaker_db: float
    """Level of the weaker tone against the stronger, at the settled onset."""

    @property
    def split_cents(self) -> float:
        """How far apart the two tones are."""
        return float(CENTS * np.log1p(self.rate_hz / self.frequency_hz))


@dataclass(frozen=True, slots=True, kw_only=True)
class Beating:
    """What one pluck shows of beats."""

    followed: tuple[int, ...]
    """Numbers of the partials that could be followed long and clearly enough for a beat to show."""
    beats: tuple[Beat, ...]
    heard_s: float


def find_beats(bands: PluckBands, partials_hz: tuple[float, ...], end_s: float, settings: FalseSettings) -> Beating:
    """Look for beats in the partials 1, 2, … at `partials_hz`; `end_s` from the onset, where the pluck stops."""
    s = settings
    followed, beats = [], []
    half_hz = float(np.clip(s.band_share * partials_hz[0], s.band_least_hz, s.band_most_hz)) if partials_hz else 0.0
    for number, hz in enumerate(partials_hz[: s.partials], start=1):
        band = bands.band(hz, half_hz)
        inside = band.within(s.settled_s, end_s - s.guard_s)
        power = np.abs(band.envelope[inside]) ** 2
        noise = noise_power(bands, hz, half_hz, partials_hz[0] / 2, (s.settled_s, end_s - s.guard_s))
        clear = np.flatnonzero(power > s.clear_power * noise)
        stop = int(clear[-1]) + 1 if len(clear) else 0
        power, t_s = power[: stop : s.every], band.times_s[inside][: stop : s.every]
        if len(t_s) < s.least_values or t_s[-1] - t_s[0] < s.least_s:
            continue
        followed.append(number)
        beat = _beat(t_s - t_s[0], power, noise, min(s.most_hz, s.most_share * half_hz), s)
        if beat is not None:
            rate_hz, u95_hz, weaker_db = beat
            beats.append(Beat(number=number, frequency_hz=hz, rate_hz=rate_hz, rate_u95_hz=u95_hz, weaker_db=weaker_db))
    return Beating(followed=tuple(followed), beats=tuple(beats), heard_s=max(0.0, end_s - s.guard_s - s.settled_s))


def _beat(
    t_s: Vector, power: Vector, noise: float, most_hz: float, s: FalseSettings
) -> tuple[float, float, float] | None:
    """(rate in Hz, half-width of its 95 % interval, weaker tone in dB) of what beats in `power`, or None."""
    import scipy.optimize

    log_power = np.log(np.maximum(power, 1e-30))
    weight = 1 / np.sqrt(s.model_share**2 + 2 * noise / power)
    start = _first_guess(t_s, log_power, weight, most_hz, s)
    if start is None:
        return None
    straight, guess = start

    def misfit(x: Vector) -> Vector:
        return np.asarray(weight * (np.log(_power(x, t_s) + noise) - log_power))

    def slopes(x: Vector) -> Vector:
        return _slopes(x, t_s, noise) * weight[:, None]

    level, fall, phase, rate, ratio = guess
    best = scipy.optimize.least_squares(
        misfit, [level, fall, np.log(ratio), fall, phase, rate], slopes, method="lm", max_nfev=s.most_steps
    )
    left = 2 * float(best.cost)
    rate_hz = abs(float(best.x[5]))
    turns = rate_hz * float(t_s[-1])
    if left > s.most_left * straight or turns < s.least_turns or rate_hz > most_hz:
        return None
    weaker_db = -abs(20 / np.log(10) * float(best.x[2]))
    if weaker_db < s.weakest_db:
        return None
    u95_hz = s.coverage * _deviation_hz(np.asarray(best.jac), best.fun, most_hz, t_s)
    return (rate_hz, u95_hz, weaker_db) if u95_hz < s.most_u95_hz else None


def _power(x: Vector, t_s: Vector) -> Vector:
    """Power of two tones: x = ln of the stronger's power, its rate of fall, ln(B/A), the other's fall, phase, beat."""
    first = np.exp(np.clip(x[0] - 2 * x[1] * t_s, -60, 60))
    ratio = np.exp(np.clip(x[2] - (x[3] - x[1]) * t_s, -30, 30))
    return np.asarray(first * (1 + ratio**2 + 2 * ratio * np.cos(2 * np.pi * x[5] * t_s + x[4])))


def _slopes(x: Vector, t_s: Vector, noise: float) -> Vector:
    """Derivatives of ln(power of two tones + noise) by each of x, shape (times, 6)."""
    first = np.exp(np.clip(x[0] - 2 * x[1] * t_s, -60, 60))
    ratio = np.exp(np.clip(x[2] - (x[3] - x[1]) * t_s, -30, 30))
    angle = 2 * np.pi * x[5] * t_s + x[4]
    together = ratio * np.cos(angle)
    share = first / (first * (1 + ratio**2 + 2 * together) + noise)
    whole = share * (1 + ratio**2 + 2 * together)
    by_ratio = share * 2 * (ratio**2 + together)
    by_phase = share * -2 * ratio * np.sin(angle)
    return np.column_stack(
        [whole, (by_ratio - 2 * whole) * t_s, by_ratio, -by_ratio * t_s, by_phase, by_phase * 2 * np.pi * t_s]
    )


def _first_guess(
    t_s: Vector, log_power: Vector, weight: Vector, most_hz: float, s: FalseSettings
) -> tuple[float, tuple[float, float, float, float, float]] | None:
    """(misfit of a straight line, (ln power at the start, rate of fall, phase, beat rate, weaker over stronger)), or
    None where no sinusoid helps."""
    span_s = float(t_s[-1])
    if s.least_turns / span_s >= most_hz:
        return None
    rates = np.arange(s.least_turns / span_s, most_hz, s.grid_turns / span_s)
    line = np.column_stack([np.ones_like(t_s), t_s]) * weight[:, None]
    basis, _ = np.linalg.qr(line)
    target = log_power * weight
    rest = target - basis @ (basis.T @ target)
    straight = float(rest @ rest)
    angle = 2 * np.pi * rates[:, None] * t_s
    waves = np.stack([np.cos(angle), np.sin(angle)], axis=2) * weight[:, None]
    waves = waves - basis @ (basis.T @ waves)
    gram = np.einsum("rni,rnj->rij", waves, waves) + 1e-9 * np.eye(2)
    along = np.einsum("rni,n->ri", waves, rest)
    size = np.linalg.solve(gram, along[:, :, None])[:, :, 0]
    gained = np.sum(size * along, axis=1)
    top = int(gained.argmax())
    if straight <= 0 or gained[top] < s.least_gain * straight:
        return None
    solution, *_ = np.linalg.lstsq(line, target, rcond=None)
    phase = float(np.arctan2(-size[top, 1], size[top, 0]))
    ratio = float(np.clip(np.hypot(*size[top]) / 2, *s.start_ratios))
    return straight, (float(solution[0]), float(-solution[1] / 2), phase, float(rates[top]), ratio)


def _deviation_hz(jacobian: Vector, rest: Vector, most_hz: float, t_s: Vector) -> float:
    """Standard deviation of the beat rate, from what the fit leaves over and how far that hangs together in time."""
    try:
        covariance = np.linalg.inv(jacobian.T @ jacobian + 1e-12 * np.eye(jacobian.shape[1]))
    except np.linalg.LinAlgError:
        return most_hz
    score = (jacobian @ covariance)[:, 5] * rest
    together = float(np.sum(score**2))
    for lag in range(1, min(len(score) // 4, 12)):
        together += 2 * max(float(score[lag:] @ score[:-lag]), 0.0)
    return float(np.sqrt(together))
