"""What a room adds to a string's sound, and how its partials die away without it.

Task. Partials that die faster than the room does are heard to die as slowly as the room. From how the partials of all
plucks of one recording run: how long this room rings and how loud, and each short partial's own decay with an interval
that says what the room leaves open.

Method. A tone that dies at the rate a (1/s, of power) in a room whose response is diffuse, dies at the rate r and has k
times the energy of the direct sound, has the expected power exp(-at) + k·r·(exp(-rt) - exp(-at))/(a - r): the energy
response of a room convolved with the tone's (Schroeder, JASA 37 (1965) 409). Backward integrated from the first clear
moment on, such curves depend on a, r and k alone. They are tried on a grid. r and the usual k are those that explain
the partials of all plucks best; k may differ from partial to partial, since a room's response is uneven. What the
room adds is random (of complex Gaussian amplitude), so a curve may depart from its expectation the more, the more of
it is the room's. How fast a partial dies is weighed against how fast the others do at its frequency and number.

Conventions. Rates are of power: T60 = ln(10^6)/rate. Levels of a room in dB: energy of its response to that of the
direct sound.

Known limits. One decay time for all frequencies. A recording of few strings shows no room. What dies three times as
fast as the room is known badly, and the interval says so.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from analyzer.level_rows import Table, last_clear, mean_of, running_mean
from analyzer.schroeder import DB, NEPERS_60, Vector
from analyzer.settings import RoomSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Courses:
    """How the energy of the partials of one pluck runs, at the times of `moments`."""

    number: NDArray[np.int64]
    """(N,)"""
    hz: Vector
    """(N,)"""
    curve_db: Table
    """(N, K) energy still to come."""
    worth: Table
    """(N, K) how well that is known, 0 to 1: 1 where neither noise nor the guess about what follows the end matters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """The room of one recording, and what its partials usually do."""

    t60_s: float
    """Of the grid."""
    level_db: float
    """Usual energy of the room's response against the direct sound; the lowest of the grid: no room is heard."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnDecay:
    """A partial's decay without the room."""

    t60_s: float
    log_deviation: float
    """Standard deviation of ln t60_s."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grid:
    """Curves tried, for each decay of a partial (A), of a room (R), and level of the room (L)."""

    log_t60: Vector
    """(A,)"""
    curve_db: Table
    """(A, R, L, K)"""
    weight: Table
    """(A, R, L, K) one over the variance of what is heard about it, 1/dB²."""


def moments(s: RoomSettings) -> NDArray[np.int64]:
    """(K,) steps of `step_s` from `first_s` on at which curves are compared: dense at first."""
    return np.concatenate([np.arange(*part) for part in s.steps])


def courses(power: Table, noise: Vector, number: NDArray[np.int64], hz: Vector, s: RoomSettings) -> Courses:
    """From the powers (N, T) of one pluck's partials, `step_s` apart from `first_s` on, and their noises (N,)."""
    power = power[:, : s.most_values]
    at = np.arange(power.shape[1])
    stop = np.maximum(last_clear(running_mean(power, s.smooth_values), noise, s.clear_power), s.least_values)[:, None]
    heard = at < stop
    quiet = at >= stop + s.quiet_after
    enough = quiet.sum(axis=1) >= s.quiet_values
    noise = np.where(enough, mean_of(power, quiet | ~enough[:, None]), noise)
    clean = np.where(heard, power - noise[:, None], 0.0)
    summed = np.cumsum(clean[:, ::-1], axis=1)[:, ::-1]
    after = _after(summed, clean, stop, s)[:, None]
    picked = moments(s)
    inside = picked < power.shape[1]
    picked = np.where(inside, picked, 0)
    energy = summed[:, picked] * s.step_s + after
    left = np.maximum(stop - picked, 0)
    doubt = noise[:, None] * s.step_s * (s.noise_doubt * left + np.sqrt(left)) + s.after_doubt * after
    first = np.where(hz > s.early_hz, 0, s.settled_values)[:, None]
    clear = np.logical_and.accumulate((picked < stop) & (energy > s.clear_energy * doubt), axis=1)
    energy = np.maximum(energy, 1e-30)
    curve = DB * np.log(energy)
    clear &= inside & (picked >= first)
    clear &= curve > np.take_along_axis(curve, np.minimum(first, len(picked) - 1), axis=1) - s.range_db
    worth = np.where(clear, 1 / (1 + (DB / s.curve_db * doubt / energy) ** 2), 0.0)
    return Courses(number=number, hz=hz, curve_db=curve, worth=worth)


def _after(summed: Table, clean: Table, stop: NDArray[np.int64], s: RoomSettings) -> Vector:
    """(N,) energy after the end, by the rate at which the second half fades: an exponential's energy over its power."""
    at = np.arange(clean.shape[1])
    end = np.maximum(mean_of(clean, (at < stop) & (at >= stop - s.smooth_values)), 0.0)
    third, last = stop // 3, stop - stop // 3
    begun, ended = (np.take_along_axis(summed, k, axis=1)[:, 0] for k in (third, last))
    fades = (ended > 0) & (begun > ended)
    span_s = (last - third)[:, 0] * s.step_s
    longest_s = s.longest_after_s / NEPERS_60
    tau_s = span_s / np.log(np.where(fades, begun, np.e) / np.where(fades, ended, 1.0))
    return np.asarray(end * np.where(fades, np.minimum(tau_s, longest_s), longest_s))


@lru_cache(maxsize=4)
def _grid(s: RoomSettings) -> _Grid:
    log_t60 = np.linspace(np.log(s.shortest_s), np.log(s.longest_s), s.own_n)
    own = (NEPERS_60 / np.exp(log_t60))[:, None, None, None]
    # A hair off the strings' own rates, where the curve's formula would divide by nothing
    rate = (NEPERS_60 / np.array(s.rooms_s))[None, :, None, None] * 1.0001
    level = 10 ** (np.array(s.levels_db) / 10)[None, None, :, None]
    t = s.first_s + s.step_s * moments(s)
    behind = level * rate / (own - rate)
    late = behind / rate * np.exp(-rate * t)
    energy = (1 - behind) / own * np.exp(-own * t) + late
    share = np.clip(late / energy, 0.0, 1.0)
    uneven_db = DB / np.sqrt(1 + s.independent_per_s / rate)
    return _Grid(
        log_t60=log_t60,
        curve_db=DB * np.log(np.maximum(energy, 1e-12)),
        weight=1 / (s.curve_db**2 + (share * uneven_db) ** 2),
    )


def _likelihood(curve_db: Table, worth: Table, tried_db: Table, weight: Table, s: RoomSettings) -> Table:
    """(N, …) log-likelihood of each course (N, K) under each curve tried (…, K); heights are free.

    Departures along a curve hang together: they count as `independent` ones of Student's t.
    """
    kind = np.float32
    width = tried_db.shape[-1]
    part = worth.astype(kind)
    count = np.maximum(part.sum(axis=1, keepdims=True), 1e-3)
    middle = (part * curve_db).sum(axis=1, keepdims=True) / count
    seen = np.where(worth > 0, curve_db - middle, 0.0).astype(kind)
    tried = tried_db.reshape(-1, width)
    tried = (tried - tried[:, :1]).astype(kind)
    w = weight.reshape(-1, width).astype(kind)
    size = np.maximum(part @ w.T, 1e-6)
    weighed = part * seen
    off = weighed @ w.T - part @ (w * tried).T
    square = (weighed * seen) @ w.T - 2 * weighed @ (w * tried).T + part @ (w * tried * tried).T
    misfit = np.maximum(square - off * off / size, 0.0) / count
    spread = 0.5 * (part @ np.log(w).T) / count
    log = s.independent * (spread - 0.5 * (s.freedom + 1) * np.log1p(misfit / s.freedom))
    # What no curve explains is the measure of what may be explained by chance
    log = log / np.maximum(1.0, misfit.min(axis=1, keepdims=True))
    return np.asarray(log, dtype=np.float64).reshape(len(curve_db), *tried_db.shape[:-1])


def apart(plucks: Sequence[Courses | None], s: RoomSettings) -> tuple[Room | None, tuple[dict[int, OwnDecay], ...]]:
    """The room of a recording, and for each pluck the own decays of its short partials, by their number.

    None and no decays where too few partials are short and clear for a room to show.
    """
    nothing: tuple[dict[int, OwnDecay], ...] = tuple({} for _ in plucks)
    given = [c for c in plucks if c is not None and len(c.number)]
    if not given:
        return None, nothing
    stacked = Courses(
        number=np.concatenate([c.number for c in given]),
        hz=np.concatenate([c.hz for c in given]),
        curve_db=np.concatenate([c.curve_db for c in given]),
        worth=np.concatenate([c.worth for c in given]),
    )
    owner = np.repeat([k for k, c in enumerate(plucks) if c is not None], [len(c.number) for c in given])
    known = np.flatnonzero((stacked.worth > 0).sum(axis=1) >= s.least_values)
    grid = _grid(s)
    dry = _likelihood(stacked.curve_db[known], stacked.worth[known], grid.curve_db[:, 0, 0], grid.weight[:, 0, 0], s)
    as_heard = grid.log_t60[dry.argmax(axis=1)]
    short = as_heard < np.log(s.short_s)
    rows = known[short]
    if len(rows) < s.least_rows:
        return None, nothing
    usual = _usual(stacked, known, as_heard)
    few = rows[np.argsort(_of_partial(stacked, rows) @ usual)[: s.most_rows]]
    coarse = slice(None, None, s.coarse)
    log = _likelihood(
        stacked.curve_db[few][:, coarse],
        stacked.worth[few][:, coarse],
        grid.curve_db[coarse, :, :, coarse],
        grid.weight[coarse, :, :, coarse],
        s,
    )
    room, own = -1, as_heard[short]
    for _ in range(s.rounds):
        before = room
        beside = _beside(grid.log_t60[coarse], stacked, few, usual, s.search_scatter)
        room, level = _likeliest(log + beside[:, :, None, None], s)
        if room != before:
            here = _likelihood(
                stacked.curve_db[rows], stacked.worth[rows], grid.curve_db[:, room], grid.weight[:, room], s
            )
        joint = here + _beside(grid.log_t60, stacked, rows, usual, s.usual_scatter)[:, :, None] + _level_prior(level, s)
        share = np.exp(joint - joint.max(axis=(1, 2), keepdims=True))
        share /= share.sum(axis=(1, 2), keepdims=True)
        own = share.sum(axis=2) @ grid.log_t60
        all_own = as_heard.copy()
        all_own[short] = own
        usual_before = usual
        usual = _usual(stacked, known, all_own)
    variance = np.maximum(share.sum(axis=2) @ grid.log_t60**2 - own**2, 0.0)
    own, deviation = _alone(own, variance, _of_partial(stacked, rows) @ usual_before, s)
    out = list(nothing)
    for i, row in enumerate(rows):
        out[int(owner[row])][int(stacked.number[row])] = OwnDecay(
            t60_s=float(np.exp(own[i])),
            log_deviation=float(deviation[i]),
        )
    return Room(t60_s=s.rooms_s[room], level_db=s.levels_db[level]), tuple(out)


def _of_partial(stacked: Courses, rows: NDArray[np.int64]) -> Table:
    return np.column_stack([np.ones(len(rows)), np.log(stacked.hz[rows] / 1000), np.log(stacked.number[rows])])


def _usual(stacked: Courses, rows: NDArray[np.int64], log_t60: Vector) -> Vector:
    """(3,) what ln T60 usually is, by robust least squares (Huber's and Cauchy's reweighting in one)."""
    x, weight = _of_partial(stacked, rows), np.ones(len(rows))
    for _ in range(ROBUST_ROUNDS):
        usual = np.asarray(np.linalg.lstsq(x * weight[:, None], log_t60 * weight, rcond=None)[0])
        weight = 1 / np.sqrt(1 + ((log_t60 - x @ usual) / ROBUST_SCALE) ** 2)
    return usual


def _beside(log_t60: Vector, stacked: Courses, rows: NDArray[np.int64], usual: Vector, scatter: float) -> Table:
    """(N, A) log-probability of each decay time beside what is usual."""
    expected = _of_partial(stacked, rows) @ usual
    return np.asarray(-0.5 * ((log_t60 - expected[:, None]) / scatter) ** 2)


def _alone(own: Vector, variance: Vector, usual: Vector, s: RoomSettings) -> tuple[Vector, Vector]:
    """(ln T60, its standard deviation) by a partial's own course, what is usual taken out again (as normal laws).

    Where the course says hardly more than what is usual did, next to nothing is left.
    """
    variance = np.minimum(variance + s.least_deviation**2, s.most_share * s.usual_scatter**2)
    precision = 1 / variance - 1 / s.usual_scatter**2
    alone = (own / variance - usual / s.usual_scatter**2) / precision
    return np.clip(alone, np.log(s.shortest_s), np.log(s.longest_s)), 1 / np.sqrt(precision)


def _level_prior(level: int, s: RoomSettings) -> Vector:
    """(L,) log-probability of a partial's own room level where `level` is the usual one."""
    levels_db = np.array(s.levels_db)
    if level == 0:
        return np.where(np.arange(len(levels_db)) == 0, 0.0, -np.inf)
    levels_db[0] = levels_db[1] - s.none_below_db
    return np.asarray(-0.5 * ((levels_db - s.levels_db[level]) / s.level_scatter_db) ** 2)


def _likeliest(log: Table, s: RoomSettings) -> tuple[int, int]:
    """(index of the room's decay time, of its level), given (N, A, R, L); each partial has its say up to `most_log`."""
    best = log.max(axis=1)
    said = np.stack([(best + _level_prior(level, s)).max(axis=2) for level in range(len(s.levels_db))], axis=2)
    total = np.maximum(said, said.max(axis=(1, 2), keepdims=True) - s.most_log).sum(axis=0)
    room, level = np.unravel_index(int(total.argmax()), total.shape)
    return int(room), int(level)


ROBUST_ROUNDS = 4
ROBUST_SCALE = 0.5
"""ln T60 beyond which a partial counts less."""
