"""How a matched pluck dies away: partial by partial, and the string's sound as a whole.

Task. `decay_s`: the time for the string's sound to fall by 60 dB, from -5 to -25 dB of its Schroeder curve, noise
compensated, from the settled onset (`t20`); and each partial's own decay, from which `condition` judges damping.

Method. The string's sound is the sum of its partials' powers in narrow bands (`bands`), each less its noise: what
lies between the partials (earlier strings, the room's noise, a voice) takes no part. Backward integration follows
Schroeder, JASA 37 (1965) 409; the part after the end (the noise, the next pluck or a damping hand) is not counted as
silence but carried on at the late slope (Lundeby et al., Acustica 81 (1995) 344). A partial's own T60 is taken over
its first 20 dB, from its own backward integration (which passes over beats) and a straight line; where the later
part falls clearly more slowly, that is kept apart as its after-sound.

Partials that a recorder's microphone filters are restored by what it leaves of the noise there. What a room leaves
behind and how far the strings go on as they began is judged over the whole recording (`room`, `dry`, `steadiness`).

Conventions. T60 in seconds; rates in dB per second; times from the onset. The settled onset is
`DecaySettings.settled_s` after the pluck: the attack's noise and the band's own rise are over.

Known limits. Decays shorter than the band's memory (about 1/half-width) come out longer. A decay cut after less than
10 dB is not reported.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analyzer.bands import PluckBands
from analyzer.level_rows import Table, between, last_clear, lines_through, mean_of, running_mean
from analyzer.room import Courses, courses
from analyzer.schroeder import DB, NEPERS_60, Vector, curve_db
from analyzer.settings import DecaySettings, RoomSettings
from analyzer.t20 import LAST, Tones, Whole, whole_decay


@dataclass(frozen=True, slots=True, kw_only=True)
class PartialDecay:
    """How one partial dies away."""

    number: int
    frequency_hz: float
    t60_s: float
    t60_log_deviation: float
    """Standard deviation of ln(t60_s)."""
    late_t60_s: float | None
    """Of its after-sound, where that is clearly slower; else None."""
    level_db: float
    """At the settled onset by the fitted line, dB below full scale."""
    range_db: float
    """From the settled onset to the noise or the cut."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decay:
    """How one pluck dies away."""

    decay_s: float | None
    decay_u95_s: float | None
    cut: bool
    """True where the next sound or a hand ended it above the noise: the rest is carried on."""
    partials: tuple[PartialDecay, ...]
    curve_db: tuple[float, ...]
    """Level of the string's sound against the settled onset, one value each `curve_step_s`, while it stands clear."""
    level_db: float | None
    """Of the string's sound at the settled onset, dB below full scale."""
    reason: str
    """Why there is no decay_s; empty where there is."""
    balance: float = 0.0
    """How ln decay_s changes with ln of its partials' powers (root of the sum of squares): what colours the sound, a
    room, changes them by chance."""
    unsteady: float = 0.0
    """How much its partials' own rates changed while they were heard, natural logarithm."""
    carried: float = 0.0
    """How ln decay_s changes with ln of the rate of what was not heard; 0 where all of its 25 dB were."""
    courses: Courses | None = None
    """Of its partials, for telling the room apart (`room`)."""


def measure(
    bands: PluckBands,
    partials_hz: tuple[float, ...],
    end_s: float,
    settings: DecaySettings,
    room_settings: RoomSettings,
    gain_doubt_db: float = 0.0,
) -> Decay:
    """Measure one pluck whose partials 1, 2, … lie at `partials_hz`; `end_s` from the onset, where it stops.

    `gain_doubt_db`: how far the recorder's gain may have risen meanwhile (`gain`): the interval widens by it.
    """
    s = settings
    before = round((s.settled_s - room_settings.first_s) / s.step_s)
    times_s = s.settled_s + s.step_s * np.arange(
        -before, max(1, np.ceil((end_s - s.guard_s - s.settled_s) / s.step_s - 1e-9))
    )
    if len(times_s) < s.least_values + before:
        return _none("the next sound came too soon")
    tones = _tones(bands, np.array(partials_hz), times_s, before, s) if partials_hz else None
    if tones is None or len(tones.number) == 0:
        return _none("it hardly stands out of the noise")
    total, noise = tones.power[:, before:].sum(axis=0), float(tones.noise.sum())
    stop = _until_damped(total, noise, s)
    if stop < s.least_values:
        return _none("it was damped at once")
    early = tones.power[:, : before + stop]
    times_s, total = times_s[before : before + stop], total[:stop]
    tones = replace(tones, power=early[:, before:])
    partials = _partials(times_s, tones, gain_doubt_db, s)
    smoothed = running_mean(total, s.smooth_values)
    cut = bool(last_clear(smoothed, noise, s.clear_power) >= len(total) - s.smooth_values)
    whole = whole_decay(times_s, tones, _tail_s(tones, partials) if cut else None, gain_doubt_db, s)
    if whole is not None and tones.kept.min() < 1 / s.clear_power:
        whole = _with_bass(times_s, tones, partials, whole, cut, s)
    clean = np.maximum(total - noise, 1e-16)
    clear_n = int(last_clear(total, noise, s.clear_power))
    every = max(1, round(s.curve_step_s / s.step_s))
    curve = DB * np.log(clean[:clear_n:every] / clean[0])
    return Decay(
        decay_s=whole.decay_s if whole is not None else None,
        decay_u95_s=whole.decay_s * whole.relative if whole is not None else None,
        cut=cut,
        partials=partials,
        curve_db=tuple(round(float(v), 1) for v in curve),
        level_db=float(DB * np.log(clean[0] / 2)),
        reason="" if whole is not None else "it was cut or covered before it had fallen by 10 dB",
        balance=whole.balance if whole is not None else 0.0,
        unsteady=whole.unsteady if whole is not None else 0.0,
        carried=whole.carried if whole is not None else 0.0,
        courses=courses(early, tones.noise, tones.number, tones.hz, room_settings),
    )


def _none(reason: str) -> Decay:
    return Decay(decay_s=None, decay_u95_s=None, cut=True, partials=(), curve_db=(), level_db=None, reason=reason)


def _tones(bands: PluckBands, hz: Vector, times_s: Vector, settled: int, s: DecaySettings) -> Tones:
    """Those of the partials at `hz` that stand out of the noise as they start, from value `settled` on."""
    half_hz = float(np.clip(s.band_share * hz[0], s.band_least_hz, s.band_most_hz))
    at_s, sampled = bands.powers(hz, half_hz)
    noise = bands.noise_powers(hz, half_hz, float(hz[0]) / 2, (float(times_s[settled]), float(times_s[-1])))
    power = between(at_s, sampled, times_s)
    clear = power[:, settled : settled + s.least_values].max(axis=1) > s.clear_power * noise
    low = hz < s.bass_hz
    kept = np.ones(len(hz))
    if low.any() and not low.all():
        kept[low] = np.minimum(1.0, noise[low] / np.median(noise[~low]))
    first = int(clear.argmax()) if clear.any() else 0
    memory_s = s.band_memory / half_hz
    just_before = sampled[:, (at_s > -memory_s - s.before_s) & (at_s < -memory_s)]
    return Tones(
        number=np.flatnonzero(clear) + 1,
        hz=hz[clear],
        power=power[clear],
        noise=noise[clear],
        kept=kept[clear],
        before=just_before[clear].mean(axis=1) if just_before.size else noise[clear],
        independent_per_s=s.independent_share * half_hz,
        missed=float(kept[:first].min(initial=1.0)),
    )


def _until_damped(power: Vector, noise: float, s: DecaySettings) -> int:
    """Number of values before a hand damps the string: where its level leaves its own trend downwards for good."""
    level = DB * np.log(np.maximum(running_mean(power, 3), 1e-16))
    run, ahead = s.trend_values, s.damped_values
    if len(level) <= run + ahead:
        return len(power)
    past = np.lib.stride_tricks.sliding_window_view(level, run)[: len(level) - ahead - run]
    x = np.arange(run) - (run - 1) / 2
    mean, slope, last = past.mean(axis=1), past @ x / float(x @ x), past[:, -1]
    covered = last < DB * np.log(noise * s.clear_power) + s.damped_db
    fallen = np.minimum(mean + slope * ((run - 1) / 2 + ahead), last) - level[run + ahead - 1 : -1] > s.damped_db
    for k in np.flatnonzero(fallen[: int(covered.argmax()) if covered.any() else len(covered)]):
        expected = mean[k] + slope[k] * ((run - 1) / 2 + 1 + np.arange(ahead, len(level) - run - k))
        if np.all(np.minimum(expected, last[k]) - level[run + k + ahead :] > s.damped_db):
            return int(run + k)
    return len(power)


def _tail_s(tones: Tones, partials: tuple[PartialDecay, ...]) -> float | None:
    """Energy after the cut over the power there, each partial carried on at its own rate; None where none is known.

    An exponential of decay time T60 holds power·T60/(6·ln 10) after any moment.
    """
    t60_s = {p.number: p.late_t60_s or p.t60_s for p in partials}
    last = np.maximum(tones.power[:, -LAST:].mean(axis=1) - tones.noise, 0.0)
    carried = {int(n): float(p) for n, p in zip(tones.number, last, strict=True) if n in t60_s}
    power = sum(carried.values())
    return sum(p * t60_s[n] for n, p in carried.items()) / power / NEPERS_60 if power > 0 else None


def _with_bass(
    times_s: Vector,
    tones: Tones,
    partials: tuple[PartialDecay, ...],
    heard: Whole,
    cut: bool,
    s: DecaySettings,
) -> Whole:
    """The decay as it would be with the partials that the recorder filters restored."""
    restored_tones = replace(
        tones,
        power=tones.power / tones.kept[:, None],
        noise=tones.noise / tones.kept,
        before=tones.before / tones.kept,
    )
    restored = whole_decay(times_s, restored_tones, _tail_s(restored_tones, partials) if cut else None, 0.0, s)
    if restored is None:
        return replace(heard, relative=s.most_relative)
    doubt = s.bass_doubt * abs(float(np.log(restored.decay_s / heard.decay_s)))
    if tones.missed < 1 / s.clear_power:
        doubt += s.bass_missed
    relative = min(float(np.hypot(max(restored.relative, heard.relative), doubt)), s.most_relative)
    return replace(restored, relative=relative)


def _partials(times_s: Vector, tones: Tones, gain_doubt_db: float, s: DecaySettings) -> tuple[PartialDecay, ...]:
    """Each partial's decay time over its first 20 dB; its after-sound where clearly slower.

    The longer it rings, the more its backward integration counts, which passes over beats; the shorter, the more the
    straight line through its level: what is left behind by the room would bend the curve's beginning.
    """
    stop = last_clear(running_mean(tones.power, s.smooth_values), tones.noise, s.clear_power)
    rows = np.flatnonzero(stop >= s.least_values)
    if len(rows) == 0:
        return ()
    stop, at = stop[rows, None], np.arange(len(times_s))
    power = np.maximum(tones.power[rows] - tones.noise[rows, None], 1e-3 * tones.power[rows])
    level = DB * np.log(power)
    early = _early(level, stop, s)
    line = lines_through(times_s, level, at < early)
    flattest = -60 / s.longest_s
    by_line_s = -60 / np.minimum(line, flattest)
    late_start = stop - np.maximum(s.least_values, stop // 2)
    late = np.minimum(lines_through(times_s, level, (at >= late_start) & (at < stop)), flattest)
    end = mean_of(power, (at >= stop - LAST) & (at < stop))
    curve = curve_db(np.where(at < stop, power, 0.0), float(times_s[1] - times_s[0]), end * DB / -late)
    low = np.maximum(-s.early_db, np.take_along_axis(curve, stop - 1, axis=1)[:, 0] + s.end_margin_db)
    part = (curve <= s.partial_from_db) & (curve >= low[:, None]) & (at < stop)
    by_energy = lines_through(times_s, curve, part)
    known = (part.sum(axis=1) >= s.least_values) & (by_energy < flattest)
    known &= low < s.partial_from_db - s.partial_least_db
    apart = np.where(known, np.log(-60 / np.where(known, by_energy, -1.0) / by_line_s), 0.0)
    t60_s = by_line_s * np.exp(apart / (1 + (s.room_matters_s / by_line_s) ** s.room_power))
    used_db = np.minimum(60 / by_line_s * (times_s[early[:, 0] - 1] - times_s[0]), s.early_db)
    doubts = (
        np.full_like(t60_s, s.least_log_deviation),
        s.partial_doubt_db / np.maximum(used_db, s.partial_doubt_db),
        gain_doubt_db / s.coverage / np.maximum(used_db, s.partial_doubt_db),
        s.partial_bend_doubt * np.where(known, np.abs(apart), s.unknown_bend),
        s.fast_doubt * s.fast_s / t60_s,
    )
    deviation = np.minimum(np.sqrt(np.sum(np.square(doubts), axis=0)), 1.0)
    after = lines_through(times_s, level, (at >= early) & (at < stop))
    slower = (stop - early)[:, 0] >= s.after_sound_values
    slower &= (after < flattest) & (after > -60 / (s.after_sound_ratio * t60_s))
    middle_s = mean_of(np.broadcast_to(times_s, level.shape), at < early) - times_s[0]
    start_db = mean_of(level, at < early) + 60 / by_line_s * middle_s - DB * np.log(2)
    last_db = np.take_along_axis(level, stop - 1, axis=1)[:, 0]
    return tuple(
        PartialDecay(
            number=int(tones.number[row]),
            frequency_hz=float(tones.hz[row]),
            t60_s=float(t60_s[i]),
            t60_log_deviation=float(deviation[i]),
            late_t60_s=float(-60 / after[i]) if slower[i] else None,
            level_db=float(start_db[i]),
            range_db=float(level[i, 0] - last_db[i]),
        )
        for i, row in enumerate(rows)
        if line[i] <= flattest
    )


def _early(level_db: Table, stop: NDArray[np.int64], s: DecaySettings) -> NDArray[np.int64]:
    """(N, 1) values until the level, of which the first `stop` (N, 1) count, has fallen by `early_db` for good."""
    at = np.arange(level_db.shape[1])
    carried_on = np.where(at < stop, level_db, np.take_along_axis(level_db, stop - 1, axis=1))
    start_db = level_db[:, : s.least_values].max(axis=1)
    above = running_mean(carried_on, s.smooth_values) > start_db[:, None] - s.early_db
    last = above.shape[1] - (above & (at < stop))[:, ::-1].argmax(axis=1)
    found = (above & (at < stop)).any(axis=1)
    return np.maximum(s.least_values, np.where(found, last, 0))[:, None]
