"""How a matched pluck dies away: partial by partial, and the string's sound as a whole.

Task. `decay_s`: the time for the string's sound to fall by 60 dB, from -5 to -25 dB of its Schroeder curve, noise
compensated, from the settled onset; and each partial's own decay, from which `condition` judges damping.

Method. The string's sound is the sum of its partials' powers in narrow bands (`bands`), each less its noise: what
lies between the partials (earlier strings, the room's noise, a voice) takes no part. Backward integration follows
Schroeder, JASA 37 (1965) 409; the part after the end (the noise, the next pluck or a damping hand) is not counted as
silence but carried on at the late slope (Lundeby et al., Acustica 81 (1995) 344), and how much that guess and the
noise level matter goes into the interval. A partial's own T60 is taken over its first 20 dB, from its own backward
integration (which passes over beats) and a straight line (which the room's reverberation bends less); where the later
part falls clearly more slowly, that is kept apart as its after-sound.

Conventions. T60 in seconds; rates in dB per second; times from the onset. The settled onset is
`DecaySettings.settled_s` after the pluck: the attack's noise and the band's own rise are over.

Known limits. Decays shorter than the band's memory (about 1/half-width) come out longer. A decay cut after less than
10 dB is not reported.
"""

from dataclasses import dataclass, replace

import numpy as np

from analyzer.bands import PluckBands, noise_power
from analyzer.schroeder import DB, NEPERS_60, Vector, curve_db, decay_time_s
from analyzer.settings import DecaySettings

LAST = 8
"""Values averaged for the power at the end."""


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tone:
    number: int
    hz: float
    power: Vector
    """(K,) on the common time grid, noise not yet taken off."""
    noise: float
    memory_s: float


def measure(
    bands: PluckBands,
    partials_hz: tuple[float, ...],
    end_s: float,
    settings: DecaySettings,
    gain_doubt_db: float = 0.0,
) -> Decay:
    """Measure one pluck whose partials 1, 2, … lie at `partials_hz`; `end_s` from the onset, where it stops.

    `gain_doubt_db`: how far the recorder's gain may have risen meanwhile (`gain`): the interval widens by it.
    """
    s = settings
    times_s = np.arange(s.settled_s, max(end_s - s.guard_s, s.settled_s + s.step_s), s.step_s)
    if len(times_s) < s.least_values:
        return _none("the next sound came too soon")
    tones = [_tone(bands, n, hz, partials_hz[0], times_s, s) for n, hz in enumerate(partials_hz, start=1)]
    tones = [t for t in tones if float(np.max(t.power[: s.least_values])) > s.clear_power * t.noise]
    if not tones:
        return _none("it hardly stands out of the noise")
    stop = _until_damped(np.sum([t.power for t in tones], axis=0), float(sum(t.noise for t in tones)), s)
    if stop < s.least_values:
        return _none("it was damped at once")
    times_s = times_s[:stop]
    tones = [replace(t, power=t.power[:stop]) for t in tones]
    total = np.sum([t.power for t in tones], axis=0)
    noise = float(sum(t.noise for t in tones))
    partials = tuple(p for t in tones if (p := _partial(times_s, t, s)) is not None)
    decay_s, u95_s, cut = _whole(times_s, total, noise, _tail_s(times_s, tones, partials), gain_doubt_db, s)
    clean = np.maximum(total - noise, 1e-16)
    stop = _last_clear(total, noise, s.clear_power)
    every = max(1, round(s.curve_step_s / s.step_s))
    curve = DB * np.log(clean[:stop:every] / clean[0])
    return Decay(
        decay_s=decay_s,
        decay_u95_s=u95_s,
        cut=cut,
        partials=partials,
        curve_db=tuple(round(float(v), 1) for v in curve),
        level_db=float(DB * np.log(clean[0] / 2)),
        reason="" if decay_s is not None else "it was cut or covered before it had fallen by 10 dB",
    )


def _none(reason: str) -> Decay:
    return Decay(decay_s=None, decay_u95_s=None, cut=True, partials=(), curve_db=(), level_db=None, reason=reason)


def _tone(bands: PluckBands, number: int, hz: float, first_hz: float, times_s: Vector, s: DecaySettings) -> _Tone:
    half_hz = float(np.clip(s.band_share * first_hz, s.band_least_hz, s.band_most_hz))
    band = bands.band(hz, half_hz)
    power = np.interp(times_s, band.times_s, np.abs(band.envelope) ** 2)
    noise = noise_power(bands, hz, half_hz, first_hz / 2, (float(times_s[0]), float(times_s[-1])))
    return _Tone(number=number, hz=hz, power=power, noise=noise, memory_s=1 / half_hz)


def _until_damped(power: Vector, noise: float, s: DecaySettings) -> int:
    """Number of values before a hand damps the string: where its level leaves its own trend downwards for good."""
    level = DB * np.log(np.maximum(_smooth(power, 3), 1e-16))
    run, ahead = s.trend_values, s.damped_values
    floor_db = DB * np.log(noise * s.clear_power)
    x = np.arange(run) - (run - 1) / 2
    for k in range(run, len(level) - ahead):
        past = level[k - run : k]
        if past[-1] < floor_db + s.damped_db:
            return len(power)
        slope = float(x @ past) / float(x @ x)
        expected = past.mean() + slope * ((run - 1) / 2 + 1 + np.arange(len(level) - k))
        missing = np.minimum(expected, past[-1]) - level[k:]
        if missing[ahead - 1] > s.damped_db and np.all(missing[ahead:] > s.damped_db):
            return k
    return len(power)


def _last_clear(power: Vector, noise: float, factor: float) -> int:
    """Number of values from the start up to where the smoothed power last stands `factor` above the noise."""
    clear = np.flatnonzero(power > factor * noise)
    return int(clear[-1]) + 1 if len(clear) else 0


def _smooth(x: Vector, width: int) -> Vector:
    if width < 2:
        return x
    kernel = np.ones(width) / width
    return np.convolve(np.pad(x, (width // 2, width - 1 - width // 2), mode="edge"), kernel, mode="valid")


def _tail_s(times_s: Vector, tones: list[_Tone], partials: tuple[PartialDecay, ...]) -> float | None:
    """Energy after the cut over the power there, each partial carried on at its own rate; None where none is known.

    An exponential of decay time T60 holds power·T60/(6·ln 10) after any moment.
    """
    t60_s = {p.number: p.late_t60_s or p.t60_s for p in partials}
    last = {t.number: max(float(np.mean(t.power[-LAST:])) - t.noise, 0.0) for t in tones if t.number in t60_s}
    power = sum(last.values())
    return sum(last[n] * t60_s[n] for n in last) / power / NEPERS_60 if power > 0 else None


def _whole(
    times_s: Vector, total: Vector, noise: float, tail_s: float | None, gain_doubt_db: float, s: DecaySettings
) -> tuple[float | None, float | None, bool]:
    """T20 of the summed power, its 95 % half-width, and whether it was cut above the noise."""
    results = []
    cut = _last_clear(_smooth(total, s.smooth_values), noise, s.clear_power) >= len(total) - s.smooth_values
    if not cut:
        tail_s = None
    for noise_factor in (1.0, 1 - s.noise_doubt, 1 + s.noise_doubt):
        stop = _last_clear(_smooth(total, s.smooth_values), noise * noise_factor, s.clear_power)
        for tail_factor in (1.0, s.tail_doubt, 1 / s.tail_doubt) if noise_factor == 1.0 else (1.0,):
            results.append(_t20(times_s[:stop], total[:stop] - noise * noise_factor, tail_s, tail_factor, s))
    best = results[0]
    if best is None:
        return None, None, cut
    others = [r[0] for r in results[1:] if r is not None]
    spread = max((abs(np.log(o / best[0])) for o in others), default=s.lone_doubt)
    short = s.short_doubt * max(0.0, s.wanted_db / best[1] - 1)
    room = s.room_doubt * (s.room_doubt_s / best[0]) ** 2
    gain = gain_doubt_db / s.gain_range_db
    relative = float(np.sqrt(spread**2 + short**2 + best[2] ** 2 + s.settled_doubt**2 + room**2 + gain**2))
    return best[0], best[0] * min(relative, s.most_relative), cut


def _t20(
    times_s: Vector, power: Vector, tail_s: float | None, tail_factor: float, s: DecaySettings
) -> tuple[float, float, float] | None:
    """(T60 from the -5 to -25 dB line, range available in dB, relative misfit), or None below 10 dB of range."""
    if len(times_s) < s.least_values:
        return None
    step_s = float(times_s[1] - times_s[0])
    if tail_s is None:
        late = max(s.least_values, len(power) // 2)
        level = DB * np.log(np.maximum(_smooth(power, s.smooth_values), 1e-16))
        slope = min(float(np.polyfit(times_s[-late:], level[-late:], 1)[0]), -60.0 / s.longest_s)
        tail_s = DB / -slope
    curve = curve_db(power, step_s, max(float(np.mean(power[-LAST:])), 0.0) * tail_s * tail_factor)
    available = float(-curve[-1])
    if available < s.least_range_db:
        return None
    low = max(s.to_db, -(available - s.end_margin_db))
    part = (curve <= s.from_db) & (curve >= low)
    if part.sum() < s.least_values:
        part = (curve <= s.from_db / 2) & (curve >= low)
        if part.sum() < 3:
            return None
    line = np.polyfit(times_s[part], curve[part], 1)
    if line[0] >= 0:
        return None
    half = int(part.sum()) // 2
    early, later = (np.polyfit(x, y, 1)[0] for x, y in _halves(times_s[part], curve[part], half))
    bend = abs(early - later) / abs(line[0]) * s.bend_doubt * max(0.0, 1 - (s.from_db - low) / s.wanted_db)
    return float(-60 / line[0]), float(s.from_db - low), float(bend)


def _halves(x: Vector, y: Vector, half: int) -> tuple[tuple[Vector, Vector], tuple[Vector, Vector]]:
    half = max(half, 2)
    return (x[:half], y[:half]), (x[-half:], y[-half:])


def _partial(times_s: Vector, tone: _Tone, s: DecaySettings) -> PartialDecay | None:
    """One partial's decay time over its first 20 dB; its after-sound where clearly slower.

    The longer it rings, the more its backward integration counts, which passes over beats; the shorter, the more the
    straight line through its level: what is left behind by the room would bend the curve's beginning.
    """
    stop = _last_clear(_smooth(tone.power, s.smooth_values), tone.noise, s.clear_power)
    if stop < s.least_values:
        return None
    t, power = times_s[:stop], np.maximum(tone.power[:stop] - tone.noise, 1e-3 * tone.power[:stop])
    level = DB * np.log(power)
    early = _early(level, s)
    line = _slope(t[:early], level[:early])
    if line > -60 / s.longest_s:
        return None
    by_line_s = t60_s = -60 / line
    used_db = min(-line * float(t[early - 1] - t[0]), s.early_db)
    bend = s.unknown_bend
    curve = _partial_curve(t, power, level, s)
    low = max(-s.early_db, float(curve[-1]) + s.end_margin_db)
    by_energy_s = decay_time_s(t, curve, s.partial_from_db, low, s.least_values)
    if by_energy_s is not None and by_energy_s < s.longest_s and low < s.partial_from_db - s.partial_least_db:
        share = 1 / (1 + (s.room_matters_s / by_line_s) ** s.room_power)
        bend = abs(float(np.log(by_energy_s / by_line_s)))
        t60_s = by_line_s * (by_energy_s / by_line_s) ** share
    doubts = (
        s.least_log_deviation,
        s.partial_doubt_db / max(used_db, s.partial_doubt_db),
        s.partial_bend_doubt * bend,
        s.fast_doubt * s.fast_s / t60_s,
    )
    return PartialDecay(
        number=tone.number,
        frequency_hz=tone.hz,
        t60_s=t60_s,
        t60_log_deviation=min(float(np.sqrt(np.sum(np.square(doubts)))), 1.0),
        late_t60_s=_after_sound(t, level, early, t60_s, s),
        level_db=float(level[:early].mean() - line * (t[:early].mean() - t[0]) - DB * np.log(2)),
        range_db=float(level[0] - level[-1]),
    )


def _partial_curve(t: Vector, power: Vector, level_db: Vector, s: DecaySettings) -> Vector:
    late = max(s.least_values, len(t) // 2)
    after = float(np.mean(power[-LAST:])) * DB / -min(_slope(t[-late:], level_db[-late:]), -60 / s.longest_s)
    return curve_db(power, float(t[1] - t[0]), after)


def _early(level_db: Vector, s: DecaySettings) -> int:
    """Values until the level has fallen by `early_db` for good."""
    above = np.flatnonzero(_smooth(level_db, s.smooth_values) > level_db[: s.least_values].max() - s.early_db)
    return max(s.least_values, int(above[-1]) + 1 if len(above) else 0)


def _slope(t: Vector, level_db: Vector) -> float:
    x = t - t.mean()
    return float(x @ level_db) / float(x @ x)


def _after_sound(t: Vector, level_db: Vector, early: int, t60_s: float, s: DecaySettings) -> float | None:
    """T60 of what follows once the level has fallen by `early_db` for good, where that is clearly slower."""
    if len(t) - early < s.after_sound_values:
        return None
    slope = _slope(t[early:], level_db[early:])
    return -60 / slope if -60 / s.longest_s > slope > -60 / (s.after_sound_ratio * t60_s) else None
