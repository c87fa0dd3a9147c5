"""Two close tones fitted to how the power of one partial runs: how fast they beat, how strong the weaker is.

Task. From the power of a partial at even steps, with the noise's, to the rate of its beat with an interval, or None
where one tone alone explains it about as well. How well a rate must be known is not asked here.

Method. The power of two decaying tones, A²exp(-2at) + B²exp(-2bt) + 2AB·exp(-(a+b)t)·cos(2πrt + p), is fitted by least
squares of its logarithm (Levenberg & Marquardt: Marquardt, J. SIAM 11 (1963) 431), many partials at once. A first guess
of the rate is the sinusoid that, with a straight line, leaves the least misfit; all rates of a grid are tried by one
Fourier transform (as in the periodogram of Lomb, Astrophys. Space Sci. 39 (1976) 447).

Conventions. x = ln of the stronger's power, its rate of fall, ln(B/A), the other's rate of fall, phase, beat rate;
times in seconds from the first value.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import FalseSettings

Vector = NDArray[np.float64]
Table = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """How the power of one partial runs."""

    power: Vector
    """(K,) linear, noise not taken off."""
    step_s: float
    noise: float
    """Mean power of the noise alone."""
    most_hz: float
    """No beat faster than this can be told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """What beats in it."""

    rate_hz: float
    rate_u95_hz: float
    """Half-width of the rate's 95 % interval."""
    weaker_db: float
    """Level of the weaker tone against the stronger at the start."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stack:
    """Several courses in rows, the shorter ones filled up with values that count for nothing."""

    count: NDArray[np.int64]
    """(N, 1) values that count."""
    t_s: Table
    log_power: Table
    weight: Table
    """Of each value's logarithm: what the model leaves out, and noise; 0 beyond `count`."""
    noise: Table
    """(N, 1)"""
    most_hz: Table
    """(N, 1)"""

    def of(self, rows: NDArray[np.int64]) -> "_Stack":
        return _Stack(**{field.name: getattr(self, field.name)[rows] for field in fields(self)})

    @property
    def length_s(self) -> Table:
        """(N, 1)"""
        return np.take_along_axis(self.t_s, self.count - 1, axis=1)


def fit_beats(courses: Sequence[Course], settings: FalseSettings) -> tuple[Fitted | None, ...]:
    """The beat of each course, or None; courses of like length are fitted together."""
    s = settings
    found: list[Fitted | None] = [None] * len(courses)
    by_length = sorted(range(len(courses)), key=lambda k: len(courses[k].power))
    for start in range(0, len(courses), s.together_n):
        places = by_length[start : start + s.together_n]
        stack = _stacked([courses[k] for k in places], s)
        x, straight, promising = _first_guesses(stack, s)
        rows = np.flatnonzero(promising)
        x, misfit, slopes = _least_squares(x[rows], stack.of(rows), s)
        for i, row in enumerate(rows):
            course = courses[places[row]]
            n = len(course.power)
            found[places[row]] = _judged(x[i], misfit[i, :n], slopes[i, :, :n], float(straight[row]), course, s)
    return tuple(found)


def _stacked(courses: Sequence[Course], s: FalseSettings) -> _Stack:
    count = np.array([[len(c.power)] for c in courses])
    power = np.ones((len(courses), int(count.max())))
    for row, course in enumerate(courses):
        power[row, : len(course.power)] = course.power
    noise = np.array([[c.noise] for c in courses])
    heard = np.arange(power.shape[1]) < count
    return _Stack(
        count=count,
        t_s=np.arange(power.shape[1]) * np.array([[c.step_s] for c in courses]),
        log_power=np.log(np.maximum(power, 1e-30)),
        weight=np.where(heard, 1 / np.sqrt(s.model_share**2 + 2 * noise / power), 0.0),
        noise=noise,
        most_hz=np.array([[c.most_hz] for c in courses]),
    )


def _first_guesses(stack: _Stack, s: FalseSettings) -> tuple[Table, Vector, NDArray[np.bool_]]:
    """(x (N, 6) of a straight line and the sinusoid that helps it most, misfit of the line alone (N,), whether the
    sinusoid helps much (N,))."""
    import scipy.fft

    weight, target = stack.weight, stack.weight * stack.log_power
    line = np.stack([weight, weight * stack.t_s], axis=2)
    basis, triangle = np.linalg.qr(line)
    across_line = basis.transpose(0, 2, 1) @ target[:, :, None]
    rest = target - (basis @ across_line)[:, :, 0]
    straight = np.sum(rest**2, axis=1)
    height, slope = np.linalg.solve(triangle, across_line)[:, :, 0].T
    # Sums over each sinusoid of the grid, and over its square, which turns twice as fast
    steps = stack.count - 1
    size: int = scipy.fft.next_fast_len(int(np.ceil(steps.max() / s.grid_turns)))
    turn = np.exp(-2j * np.pi * s.least_turns * np.arange(weight.shape[1]) / steps)
    columns = np.stack([rest * turn, basis[:, :, 0] * turn, basis[:, :, 1] * turn, weight * turn**2], axis=1)
    sums = scipy.fft.fft(columns * weight[:, None, :], size, axis=2)
    k = np.arange((size + 1) // 2)
    along, across, twice = sums[:, 0, k], sums[:, 1:3, k], sums[:, 3, 2 * k]
    rates_hz = (s.least_turns + k * (steps / size)) / stack.length_s
    whole = np.sum(weight**2, axis=1, keepdims=True)
    cosines = (whole + twice.real) / 2 - np.sum(across.real**2, axis=1) + 1e-9
    sines = (whole - twice.real) / 2 - np.sum(across.imag**2, axis=1) + 1e-9
    mixed = -twice.imag / 2 + np.sum(across.real * across.imag, axis=1)
    swing = (sines * along.real + mixed * along.imag) + 1j * (cosines * along.imag + mixed * along.real)
    swing /= cosines * sines - mixed**2
    gained = np.where(rates_hz < stack.most_hz, swing.real * along.real + swing.imag * along.imag, -1.0)
    top = (np.arange(len(gained)), gained.argmax(axis=1))
    log_ratio = np.log(np.clip(np.abs(swing[top]) / 2, *s.start_ratios))
    fall = -slope / 2
    x = np.column_stack([height, fall, log_ratio, fall, np.angle(swing[top]), rates_hz[top]])
    return x, straight, (gained[top] > 0) & (straight > 0) & (gained[top] >= s.least_gain * straight)


def _least_squares(x: Table, stack: _Stack, s: FalseSettings) -> tuple[Table, Table, Table]:
    """(x (N, 6), weighted misfit (N, K), its slopes (N, 6, K)) at the least squares, from the guesses `x`."""
    x = x.copy()
    misfit, slopes = _evaluated(x, stack)
    cost = np.sum(misfit**2, axis=1)
    size = np.full((len(x), x.shape[1]), 0.0)
    damping = np.full(len(x), s.first_damping)
    at_work = np.arange(len(x))
    for _ in range(s.most_steps):
        steep = slopes[at_work]
        normal = steep @ steep.transpose(0, 2, 1)
        diagonal = np.einsum("nii->ni", normal)
        size[at_work] = np.maximum(size[at_work], diagonal)
        diagonal += damping[at_work, None] * size[at_work] + 1e-12
        step = np.linalg.solve(normal, steep @ misfit[at_work, :, None])[:, :, 0]
        tried = x[at_work] - step
        tried_misfit, tried_slopes = _evaluated(tried, stack.of(at_work))
        tried_cost = np.sum(tried_misfit**2, axis=1)
        better = tried_cost < cost[at_work]
        rows = at_work[better]
        settled = better & (cost[at_work] - tried_cost < s.settled_share * cost[at_work])
        x[rows], misfit[rows], slopes[rows] = tried[better], tried_misfit[better], tried_slopes[better]
        cost[rows] = tried_cost[better]
        damping[at_work] *= np.where(better, 1 / s.damping_factor, s.damping_factor)
        at_work = at_work[~settled & (damping[at_work] < s.most_damping)]
        if len(at_work) == 0:
            break
    return x, misfit, slopes


def _evaluated(x: Table, stack: _Stack) -> tuple[Table, Table]:
    """Weighted misfit (N, K) and its slopes (N, 6, K) at `x` (N, 6)."""
    log_power, slopes = log_powers(x, stack.t_s, stack.noise)
    slopes *= stack.weight[:, None, :]
    return stack.weight * (log_power - stack.log_power), slopes


def log_powers(x: Table, t_s: Table, noise: Table) -> tuple[Table, Table]:
    """ln(power of two tones + noise), shape (N, K), and its derivatives by each of `x` (N, 6), shape (N, 6, K)."""
    level, fall, log_ratio, other_fall, phase, rate = (x[:, k, None] for k in range(6))
    first = np.exp(np.clip(level - 2 * fall * t_s, -60, 60))
    ratio = np.exp(np.clip(log_ratio - (other_fall - fall) * t_s, -30, 30))
    angle = 2 * np.pi * rate * t_s + phase
    together = ratio * np.cos(angle)
    power = first * (1 + ratio**2 + 2 * together)
    total = power + noise
    share = 2 * first / total
    slopes = np.empty((len(x), 6, t_s.shape[1]))
    slopes[:, 0] = power / total
    slopes[:, 2] = share * (ratio**2 + together)
    slopes[:, 1] = (slopes[:, 2] - 2 * slopes[:, 0]) * t_s
    slopes[:, 3] = -slopes[:, 2] * t_s
    slopes[:, 4] = -share * ratio * np.sin(angle)
    slopes[:, 5] = slopes[:, 4] * (2 * np.pi * t_s)
    return np.log(total), slopes


def _judged(
    x: Vector, misfit: Vector, slopes: Table, straight: float, course: Course, s: FalseSettings
) -> Fitted | None:
    """The beat where two tones leave much less misfit than a straight line does, and the rate is known well enough."""
    length_s = (len(course.power) - 1) * course.step_s
    rate_hz, weaker_db = abs(float(x[5])), -abs(float(20 / np.log(10) * x[2]))
    if float(misfit @ misfit) > s.most_left * straight or rate_hz * length_s < s.least_turns:
        return None
    if rate_hz > course.most_hz or weaker_db < s.weakest_db:
        return None
    known_hz = s.coverage * s.rate_doubt * _deviation_hz(slopes, misfit, course.most_hz)
    u95_hz = float(np.hypot(known_hz, s.least_u95_hz))
    return Fitted(rate_hz=rate_hz, rate_u95_hz=u95_hz, weaker_db=weaker_db)


def _deviation_hz(slopes: Table, misfit: Vector, most_hz: float) -> float:
    """Standard deviation of the beat rate, from what the fit leaves over and how far that hangs together in time."""
    try:
        covariance = np.linalg.inv(slopes @ slopes.T + 1e-12 * np.eye(len(slopes)))
    except np.linalg.LinAlgError:
        return most_hz
    score = (covariance[5] @ slopes) * misfit
    together = float(np.sum(score**2))
    for lag in range(1, min(len(score) // 4, 12)):
        together += 2 * max(float(score[lag:] @ score[:-lag]), 0.0)
    return float(np.sqrt(together))
