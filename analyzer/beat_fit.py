"""Two close tones fitted to how the power of one partial runs: how fast they beat, how strong the weaker is.

Task. From the power of a partial at even steps, with the noise's, to the rate of its beat with an interval, or None
where one tone alone explains it about as well.

Method. The power of two decaying tones, A²exp(-2at) + B²exp(-2bt) + 2AB·exp(-(a+b)t)·cos(2πrt + p), is fitted by least
squares of its logarithm (Levenberg & Marquardt: Marquardt, J. SIAM 11 (1963) 431), many partials at once. A first guess
of the rate is the sinusoid that, with a straight line, leaves the least misfit; all rates of a grid are tried by one
Fourier transform (as in the periodogram of Lomb, Astrophys. Space Sci. 39 (1976) 447).

Conventions. x = ln of the stronger's power, its rate of fall, ln(B/A), the other's rate of fall, phase, beat rate;
times in seconds from the first value.
"""

from collections.abc import Sequence
from dataclasses import dataclass

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
class _Guess:
    straight: float
    """Misfit of a straight line."""
    x: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stack:
    """Several courses in rows, the shorter ones filled up with values that count for nothing."""

    t_s: Table
    log_power: Table
    weight: Table
    noise: Table
    """(N, 1)"""

    def of(self, rows: NDArray[np.int64]) -> "_Stack":
        return _Stack(
            t_s=self.t_s[rows], log_power=self.log_power[rows], weight=self.weight[rows], noise=self.noise[rows]
        )


def fit_beats(courses: Sequence[Course], settings: FalseSettings) -> tuple[Fitted | None, ...]:
    """The beat of each course, or None; courses of like length are fitted together."""
    s = settings
    found: dict[int, Fitted | None] = {}
    guesses = [_first_guess(course, s) for course in courses]
    promising = sorted((k for k, guess in enumerate(guesses) if guess), key=lambda k: len(courses[k].power))
    for start in range(0, len(promising), s.together_n):
        places = promising[start : start + s.together_n]
        stack = _stacked([courses[k] for k in places], s)
        x, misfit, slopes = _least_squares(np.array([g.x for k in places if (g := guesses[k])]), stack, s)
        for row, k in enumerate(places):
            if (guess := guesses[k]) is not None:
                n = len(courses[k].power)
                found[k] = _judged(x[row], misfit[row, :n], slopes[row, :, :n], guess.straight, courses[k], s)
    return tuple(found.get(k) for k in range(len(courses)))


def _weight(course: Course, s: FalseSettings) -> Vector:
    """Of each value's logarithm: what the model leaves out, and noise."""
    return np.asarray(1 / np.sqrt(s.model_share**2 + 2 * course.noise / course.power))


def _log(power: Vector) -> Vector:
    return np.log(np.maximum(power, 1e-30))


def _stacked(courses: Sequence[Course], s: FalseSettings) -> _Stack:
    shape = len(courses), max(len(c.power) for c in courses)
    log_power, weight = np.zeros(shape), np.zeros(shape)
    for row, course in enumerate(courses):
        log_power[row, : len(course.power)] = _log(course.power)
        weight[row, : len(course.power)] = _weight(course, s)
    return _Stack(
        t_s=np.arange(shape[1]) * np.array([[c.step_s] for c in courses]),
        log_power=log_power,
        weight=weight,
        noise=np.array([[c.noise] for c in courses]),
    )


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
    turn = np.exp(1j * (2 * np.pi * rate * t_s + phase))
    together = ratio * turn.real
    power = first * (1 + ratio**2 + 2 * together)
    total = power + noise
    share = 2 * first / total
    slopes = np.empty((len(x), 6, t_s.shape[1]))
    slopes[:, 0] = power / total
    slopes[:, 2] = share * (ratio**2 + together)
    slopes[:, 1] = (slopes[:, 2] - 2 * slopes[:, 0]) * t_s
    slopes[:, 3] = -slopes[:, 2] * t_s
    slopes[:, 4] = -share * ratio * turn.imag
    slopes[:, 5] = slopes[:, 4] * (2 * np.pi * t_s)
    return np.log(total), slopes


def _judged(
    x: Vector, misfit: Vector, slopes: Table, straight: float, course: Course, s: FalseSettings
) -> Fitted | None:
    """The beat where two tones leave much less misfit than a straight line does, and the rate is known well enough."""
    length_s = (len(course.power) - 1) * course.step_s
    rate_hz, weaker_db = abs(float(x[5])), -abs(20 / np.log(10) * float(x[2]))
    if float(misfit @ misfit) > s.most_left * straight or rate_hz * length_s < s.least_turns:
        return None
    if rate_hz > course.most_hz or weaker_db < s.weakest_db:
        return None
    u95_hz = s.coverage * _deviation_hz(slopes, misfit, course.most_hz)
    return Fitted(rate_hz=rate_hz, rate_u95_hz=u95_hz, weaker_db=weaker_db) if u95_hz < s.most_u95_hz else None


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


def _first_guess(course: Course, s: FalseSettings) -> _Guess | None:
    """A straight line and the sinusoid that helps it most; None where none helps much."""
    import scipy.fft

    n = len(course.power)
    length_s = (n - 1) * course.step_s
    rates_n = int(np.ceil((course.most_hz * length_s - s.least_turns) / s.grid_turns))
    if rates_n < 1:
        return None
    weight = _weight(course, s)
    target = _log(course.power) * weight
    line = np.column_stack([weight, weight * (np.arange(n) * course.step_s)])
    basis, triangle = np.linalg.qr(line)
    height, slope = np.linalg.solve(triangle, basis.T @ target)
    rest = target - basis @ (basis.T @ target)
    straight = float(rest @ rest)
    # Sums over each sinusoid of the grid, and over its square, which turns twice as fast
    turn = np.exp(-2j * np.pi * s.least_turns / (n - 1) * np.arange(n))
    columns = np.stack([weight * rest * turn, *(weight * basis.T * turn), weight**2 * turn**2])
    sums = scipy.fft.fft(columns, round((n - 1) / s.grid_turns), axis=1)
    along, across, twice = sums[0, :rates_n], sums[1:3, :rates_n], sums[3, : 2 * rates_n : 2]
    whole = float(weight @ weight)
    cosines = (whole + twice.real) / 2 - np.sum(across.real**2, axis=0) + 1e-9
    sines = (whole - twice.real) / 2 - np.sum(across.imag**2, axis=0) + 1e-9
    mixed = -twice.imag / 2 + np.sum(across.real * across.imag, axis=0)
    of_cosine = (sines * along.real + mixed * along.imag) / (cosines * sines - mixed**2)
    of_sine = (-cosines * along.imag - mixed * along.real) / (cosines * sines - mixed**2)
    gained = of_cosine * along.real - of_sine * along.imag
    top = int(gained.argmax())
    if straight <= 0 or gained[top] < s.least_gain * straight:
        return None
    swing = complex(of_cosine[top], -of_sine[top])
    ratio = float(np.clip(abs(swing) / 2, *s.start_ratios))
    fall, rate_hz = float(-slope / 2), (s.least_turns + s.grid_turns * top) / length_s
    return _Guess(
        straight=straight, x=(float(height), fall, float(np.log(ratio)), fall, float(np.angle(swing)), rate_hz)
    )
