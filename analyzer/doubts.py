"""What would mislead everything: another key, levers or pedals, a whole semitone, a reference other than stated.

Task. From the strings' deviations, see whether the harp as a whole is better explained by another setting than by
slackness, and say so in words a person can settle. Nothing is ever changed silently.

Method. A string raised by a lever or pedal, or an open string of another key, is off by a semitone, and all strings of
its letter are alike. For every key its strings' notes are compared with the stated key's; the key is a rival where
its deviations scatter clearly less about a smooth line over the harp than the stated key's do. A whole harp that lies
close to a whole number of semitones away, evenly, is a rival reading of slackness; where it lies above, of what was
said of the levers or pedals too.

Conventions. Cents against the stated targets.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.errors import UnusableInput
from analyzer.layout import Layout
from analyzer.settings import DoubtSettings
from analyzer.survey import Doubt
from analyzer.tuning import KEY_NAMES, Tuning, make_tuning

Vector = NDArray[np.float64]
BELOW = "semitone"
"""Code of the doubt that a person's word on the setting settles: what is left is slackness. Strings do not rise by
themselves, nor fall by the letters of a key; so those doubts stay, and are asked once more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeHarp:
    """What the strings say together."""

    doubts: tuple[Doubt, ...]
    """What another setting would explain better, whoever stated this one."""
    a4_that_fits_hz: float | None
    remarks: tuple[str, ...]
    raised: tuple[int, ...]
    """Places of single strings about a semitone above their neighbours: lever engaged, disc that does not release?"""


def whole_harp(places: Vector, cents: Vector, layout: Layout, tuning: Tuning, settings: DoubtSettings) -> WholeHarp:
    """Judge the deviations (K,) of the strings heard, at their `places` (K,) in the layout."""
    s = settings
    near = np.abs(cents - np.median(cents)) < s.far_cents if len(cents) else np.zeros(0, dtype=bool)
    if near.sum() < s.least_strings:
        return WholeHarp(doubts=(), a4_that_fits_hz=None, remarks=(), raised=())
    places, cents = places[near], cents[near]
    middle = float(np.median(cents))
    spread = float(1.4826 * np.median(np.abs(cents - middle)))
    doubts, remarks = [], []
    if (rival := _other_key(places, cents, layout, tuning, s)) is not None:
        doubts.append(rival)
    elif (even := _even_semitones(middle, spread, tuning, s)) is not None:
        doubts.append(even)
    fits_hz = tuning.a4_hz * 2 ** (middle / 1200)
    if spread < s.even_cents and abs(middle) > s.in_tune_cents and not doubts:
        remarks.append(
            f"All strings are off by about the same amount ({middle:+.0f} cents): the harp is in tune with itself at"
            f" about A4 = {fits_hz:.0f} Hz. Whether that is its pitch or slackness the recording cannot tell."
        )
    return WholeHarp(
        doubts=tuple(doubts),
        a4_that_fits_hz=fits_hz,
        remarks=tuple(remarks),
        raised=() if doubts else _raised(places, cents, s),
    )


def _smooth(places: Vector, cents: Vector) -> Vector:
    """Running median over nine strings, the common deviation at each."""
    near = np.abs(places[:, None] - places) <= 4
    ordered = np.sort(np.where(near, cents, np.inf), axis=1)
    count, row = near.sum(axis=1), np.arange(len(places))
    return np.asarray((ordered[row, (count - 1) // 2] + ordered[row, count // 2]) / 2)


def _misfit(places: Vector, cents: Vector, cap_cents: float) -> float:
    """Mean square about the common deviation, single far strings capped."""
    return float(np.mean(np.minimum((cents - _smooth(places, cents)) ** 2, cap_cents**2)))


def _other_key(places: Vector, cents: Vector, layout: Layout, tuning: Tuning, s: DoubtSettings) -> Doubt | None:
    stated = np.log2([t.target_hz for t in tuning.targets])
    own = _misfit(places, cents, s.cap_cents)
    if own < s.least_misfit:
        return None
    best: tuple[float, str] | None = None
    for key in KEY_NAMES:
        try:
            other = np.log2([t.target_hz for t in make_tuning(layout, key, a4_hz=tuning.a4_hz).targets])
        except UnusableInput:
            continue
        moved = cents - 1200 * (other - stated)[places.astype(int)]
        differing = len({layout.strings[int(p)].string[0] for p in places[np.abs(moved - cents) > 1]})
        sharp = max(0.0, float(np.median(moved)))
        cost = _misfit(places, moved, s.cap_cents) + s.letter_cost * differing + s.sharp_share * sharp**2
        if differing and (best is None or cost < best[0]):
            best = (cost, key)
    if best is None or best[0] > own * s.better_share:
        return None
    return Doubt(
        code="another key",
        sentence=(
            f"The strings fit {best[1]} clearly better than {tuning.setting}: set like that, neighbouring strings would"
            f" agree to about {max(best[0], 0.0) ** 0.5:.0f} cents instead of {own**0.5:.0f}. Look at the levers or"
            f" pedals. If they are set for {best[1]}, analyse again with --tuning {best[1]} (and --levers or"
            f" --pedals); if not, say so by giving --tuning and --levers or --pedals as they are."
        ),
    )


def _even_semitones(middle: float, scatter: float, tuning: Tuning, s: DoubtSettings) -> Doubt | None:
    steps = round(middle / 100)
    whole = abs(middle - 100 * steps) <= s.semitone_cents and 0 < abs(steps) <= s.most_steps
    if not whole or scatter > s.even_cents:
        return None
    way = "below" if steps < 0 else "above"
    count = "a semitone" if abs(steps) == 1 else f"{abs(steps)} semitones"
    if steps < 0:
        why = f"That may be slackness, or the harp is set to another key than {tuning.setting}."
    else:
        why = f"No slack harp is too high: it is probably set to another key than {tuning.setting}."
    return Doubt(
        code=BELOW if steps < 0 else "semitone above",
        sentence=(
            f"Every string lies about {count} {way} its target, very evenly (within {scatter:.0f} cents). {why}"
            f" Look at the levers or pedals and give --tuning and --levers or --pedals as they are."
        ),
    )


def _raised(places: Vector, cents: Vector, s: DoubtSettings) -> tuple[int, ...]:
    """Single strings about a semitone above the common deviation of their neighbours."""
    found = []
    for k, p in enumerate(places):
        around = (np.abs(places - p) <= s.neighbours) & (places != p)
        if around.sum() < 2:
            continue
        above = cents[k] - float(np.median(cents[around]))
        spread = float(np.median(np.abs(cents[around] - np.median(cents[around]))))
        if abs(above - 100) < s.raised_cents and spread < s.raised_spread_cents:
            found.append(int(p))
    return tuple(found)
