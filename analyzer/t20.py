"""The decay of a string's sound as a whole: T20 of its summed partials, and all that leaves it open.

Task. From the powers of a pluck's partials over time to T20 (-5 to -25 dB of ISO 3382's backward integration) with an
interval that holds the truth 95 times in 100.

Method. Each source of doubt for itself, as a relative 95 % half-width; they add as independent ones do (JCGM 100, 5.1).
The noise: its level may be another, and its own chance makes a curve run otherwise (in closed form). What was not
heard, because the next pluck cut it: as far as the partials' own rates changed before. What sounds besides: what is
heard just before the onset beats with the partials at the end of the range; what comes later bends the curve. The
recorder's gain; and a little for the choice of the onset and of partials.

How much the decay hangs on the partials' powers is handed on (`balance`): a room changes these (`dry`). So is what a
wrong guess about the part not heard would change (`carried`), for what other strings tell of it (`steadiness`).

Conventions. As in `decay`. Natural logarithms of T20 and of rates; small ones are relative differences.

Known limits. A second plane of vibration that shows only after a cut is not foreseen. A voice that begins after the
onset is seen in the bend alone.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.level_rows import Table, last_clear, lines_through, running_mean
from analyzer.schroeder import DB, NEPERS_60, Vector, curve_db
from analyzer.settings import DecaySettings

LAST = 8
"""Values averaged for the power at the end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tones:
    """The partials that stand out, on one time grid."""

    number: NDArray[np.int64]
    """(N,)"""
    hz: Vector
    """(N,)"""
    power: Table
    """(N, K) noise not yet taken off."""
    noise: Vector
    """(N,)"""
    kept: Vector
    """(N,) share of its power that the recorder lets through, where that is less than of other partials: by the noise,
    which goes through the same filter."""
    before: Vector
    """(N,) power just before the onset: noise, and what else sounds."""
    independent_per_s: float
    """Independent values of noise a second in a band."""
    missed: float
    """Least such share among the lowest partials that do not stand out at all; 1 where none is filtered away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Whole:
    """T20 of the summed power."""

    decay_s: float
    relative: float
    """95 % half-width over it."""
    balance: float
    unsteady: float
    carried: float
    """As in `Decay`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """A straight line through the part of a curve that T20 is read from."""

    t60_s: float
    range_db: float
    times_s: Vector
    curve_db: Vector

    def bend(self, s: DecaySettings) -> float:
        """ln of the slopes of its two halves, one over the other, either way."""
        half = max(len(self.times_s) // 2, 2)
        slopes = [_slope(self.times_s[part], self.curve_db[part]) for part in (slice(half), slice(-half, None))]
        first, second = np.minimum(slopes, -60 / s.longest_s)
        return abs(float(np.log(first / second)))


def whole_decay(
    times_s: Vector, tones: Tones, tail_s: float | None, gain_doubt_db: float, s: DecaySettings
) -> Whole | None:
    """T20 of the summed power and what it leaves open; `tail_s` where it was cut. None below 10 dB of range."""
    total, noise = tones.power.sum(axis=0), float(tones.noise.sum())
    smoothed = running_mean(total, s.smooth_values)
    results: list[list[_Line | None]] = []
    for noise_factor in (1.0, 1 - s.noise_less, 1 + s.noise_more):
        stop = int(last_clear(smoothed, noise * noise_factor, s.clear_power))
        tail_factors = (1.0, s.tail_doubt, 1 / s.tail_doubt) if noise_factor == 1.0 else (1.0,)
        results.append(_t20(times_s[:stop], total[:stop] - noise * noise_factor, tail_s, tail_factors, s))
    best = results[0][0]
    if best is None:
        return None
    by_tail, by_noise = (
        max((abs(float(np.log(r.t60_s / best.t60_s))) for r in others if r is not None), default=s.lone_doubt)
        for others in (results[0][1:], results[1] + results[2])
    )
    missing = float(np.sqrt(s.wanted_db / best.range_db)) * max(0.0, 1 - best.range_db / s.wanted_db)
    carried = missing if tail_s is None else float(np.hypot(missing, by_tail / -np.log(s.tail_doubt)))
    unsteady = _unsteadiness(times_s, tones, s)
    times_s = times_s[: int(last_clear(smoothed, noise, s.clear_power))]
    energy = _energy(tones, len(times_s), best.t60_s / NEPERS_60 if tail_s is None else tail_s, s)
    besides = max(0.0, float(tones.before.sum()) - noise * (1 + s.noise_more)) / float(total[0])
    doubts = (
        by_noise,
        by_tail if tail_s is None else 0.0,
        s.coverage * unsteady * carried,
        s.coverage * _by_chance(times_s, tones, best, energy, s),
        s.besides_doubt * float(np.sqrt(besides)) * 10 ** ((best.range_db - s.from_db) / 20),
        s.bend_doubt * max(0.0, best.bend(s) - s.bend_usual),
        s.settled_doubt,
        s.onset_doubt_s / best.t60_s,
        gain_doubt_db / s.gain_range_db,
    )
    return Whole(
        decay_s=best.t60_s,
        relative=min(float(np.linalg.norm(doubts)), s.most_relative),
        balance=_balance(times_s, energy, best, s),
        unsteady=unsteady,
        carried=carried,
    )


def _energy(tones: Tones, heard: int, tail_s: float, s: DecaySettings) -> Table:
    """(N, K) energy of each partial still to come at each of the first `heard` values."""
    clean = np.maximum(tones.power[:, :heard] - tones.noise[:, None], 0.0)
    after = clean[:, -LAST:].mean(axis=1, keepdims=True) * tail_s
    return np.asarray(np.cumsum(clean[:, ::-1], axis=1)[:, ::-1] * s.step_s + after)


def _unsteadiness(times_s: Vector, tones: Tones, s: DecaySettings) -> float:
    """How much the partials' own rates change from the first to the second half of what is heard of them.

    Natural logarithm, root mean square by their energies: as much they may change once more after a cut.
    """
    stop = last_clear(running_mean(tones.power, s.smooth_values), tones.noise, s.clear_power)
    rows = np.flatnonzero(stop >= 2 * s.least_values)
    if len(rows) == 0:
        return s.least_unsteady
    stop, at = stop[rows, None], np.arange(len(times_s))
    power = np.maximum(tones.power[rows] - tones.noise[rows, None], 1e-3 * tones.power[rows])
    level = DB * np.log(power)
    halves = (at < stop // 2), (at >= stop // 2) & (at < stop)
    first, second = (np.minimum(lines_through(times_s, level, half), -60 / s.longest_s) for half in halves)
    energy = np.where(at < stop, power, 0.0).sum(axis=1)
    changed = np.clip(np.log(first / second), -s.most_unsteady, s.most_unsteady)
    return float(np.hypot(np.sqrt(np.average(changed**2, weights=energy)), s.least_unsteady))


def _by_chance(times_s: Vector, tones: Tones, line: _Line, energy: Table, s: DecaySettings) -> float:
    """Standard deviation of ln T20 by the noise's own chance (law of propagation, JCGM 100, 5.1).

    T20 is a straight line through 10·lg of a sum over time, so that its change with each value is a sum as well. Noise
    of power N beside a tone of power P makes a value vary by 2PN + N².
    """
    step_s, count = float(times_s[1] - times_s[0]), energy.shape[1]
    noise = tones.noise[:, None]
    clean = np.maximum(tones.power[:, :count] - noise, 0.0)
    at = np.searchsorted(times_s, line.times_s)
    apart_s = line.times_s - line.times_s.mean()
    by_value = np.zeros(count)
    by_value[at] = apart_s / float(apart_s @ apart_s) / energy.sum(axis=0)[at]
    by_value = DB * step_s * line.t60_s / 60 * np.cumsum(by_value)
    variance = (2 * clean * noise + noise**2).sum(axis=0)
    alike = max(1.0, 1 / (tones.independent_per_s * step_s))
    return float(np.sqrt(alike * (by_value**2 @ variance)))


def _balance(times_s: Vector, energy: Table, line: _Line, s: DecaySettings) -> float:
    """How ln T20 changes with ln of the partials' powers, of which one after the other is made louder and softer."""
    every = max(1, len(line.times_s) // s.louder_values)
    times_s, energy = times_s[::every], energy[:, ::every]
    own = np.concatenate([(s.louder - 1) * energy, (1 / s.louder - 1) * energy])
    whole = np.maximum(energy.sum(axis=0) + own, 1e-30)
    curve = DB * np.log(whole / whole[:, :1])
    part = (curve <= s.from_db) & (curve >= s.from_db - line.range_db)
    slope = np.minimum(lines_through(times_s, curve, part), -60 / s.longest_s)
    changed = np.log(-60 / slope / line.t60_s)[part.sum(axis=1) >= s.least_values]
    return float(np.sqrt(changed @ changed / 2) / np.log(s.louder))


def _t20(
    times_s: Vector, power: Vector, tail_s: float | None, tail_factors: tuple[float, ...], s: DecaySettings
) -> list[_Line | None]:
    """The line from -5 to -25 dB for each guess about the energy after the end; None below 10 dB of range."""
    if len(times_s) < s.least_values:
        return [None] * len(tail_factors)
    step_s = float(times_s[1] - times_s[0])
    if tail_s is None:
        late = max(s.least_values, len(power) // 2)
        level = DB * np.log(np.maximum(running_mean(power, s.smooth_values), 1e-16))
        slope = min(_slope(times_s[-late:], level[-late:]), -60.0 / s.longest_s)
        tail_s = DB / -slope
    after = max(float(np.mean(power[-LAST:])), 0.0) * tail_s * np.array(tail_factors)
    heard = np.broadcast_to(power, (len(tail_factors), len(power)))
    return [_line(times_s, curve, s) for curve in curve_db(heard, step_s, after)]


def _line(times_s: Vector, curve: Vector, s: DecaySettings) -> _Line | None:
    available = float(-curve[-1])
    if available < s.least_range_db:
        return None
    low = max(s.to_db, -(available - s.end_margin_db))
    part = (curve <= s.from_db) & (curve >= low)
    if part.sum() < s.least_values:
        part = (curve <= s.from_db / 2) & (curve >= low)
        if part.sum() < 3:
            return None
    slope = _slope(times_s[part], curve[part])
    if slope >= 0:
        return None
    return _Line(t60_s=-60 / slope, range_db=s.from_db - low, times_s=times_s[part], curve_db=curve[part])


def _slope(t: Vector, level_db: Vector) -> float:
    x = t - t.mean()
    return float(x @ level_db) / float(x @ x)
