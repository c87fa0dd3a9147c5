"""What would mislead everything: another key, levers or pedals, a whole semitone, a reference other than stated.

Task. From the strings' deviations, see whether the harp as a whole is better explained by another setting than by
slackness, and say so in words a person can settle. Nothing is ever changed silently.

Method. A string raised by a lever or pedal, or an open string of another key, is off by a semitone, and all strings of
its letter are alike. For every key its strings' notes are compared with the stated key's; the key is a rival where
its deviations scatter clearly less about a smooth line over the harp than the stated key's do. A whole harp that lies
close to a whole number of semitones away, evenly, is a rival reading of slackness, and of what was said of the levers
or pedals. Single strings a semitone above their neighbours have a lever engaged that was not said; where all levers
were said to be on, the others have theirs off. More sounds of other pitches than the layout has strings, all far below,
are another harp's.

Conventions. Cents against the stated targets.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.errors import UnusableInput
from analyzer.layout import Layout
from analyzer.notes import in_words
from analyzer.settings import DoubtSettings
from analyzer.survey import Doubt
from analyzer.tuning import KEY_NAMES, Tuning, make_tuning

Vector = NDArray[np.float64]
KEY, LAYOUT, RAISED, LOWERED, LEVERS = "another key", "another layout", "raised strings", "lowered strings", "levers"
"""Codes of the doubts that hang on more than one word about the whole harp's setting."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeHarp:
    """What the strings say together."""

    doubts: tuple[Doubt, ...]
    """What another setting would explain better, whoever stated this one."""
    a4_that_fits_hz: float | None
    remarks: tuple[str, ...]
    raised: tuple[int, ...]
    """Places of single strings about a semitone above their neighbours: lever engaged, disc that does not release?"""
    lowered: tuple[int, ...]
    """Places of single strings about a semitone below, whose levers were said to be on: off?"""
    others_off: bool
    """All levers were said to be on, and those of all but the raised strings seem to be off."""


def whole_harp(places: Vector, cents: Vector, layout: Layout, tuning: Tuning, settings: DoubtSettings) -> WholeHarp:
    """Judge the deviations (K,) of the strings heard, at their `places` (K,) in the layout."""
    s = settings
    near = np.abs(cents - np.median(cents)) < s.far_cents if len(cents) else np.zeros(0, dtype=bool)
    if near.sum() < s.least_strings:
        return WholeHarp(doubts=(), a4_that_fits_hz=None, remarks=(), raised=(), lowered=(), others_off=False)
    places, cents = places[near], cents[near]
    middle = float(np.median(cents))
    spread = float(1.4826 * np.median(np.abs(cents - middle)))
    doubts, remarks = [], []
    raised: tuple[int, ...] = ()
    lowered: tuple[int, ...] = ()
    on = [t.raised_semitones > 0 for t in tuning.targets]
    if (rival := _other_key(places, cents, layout, tuning, s)) is not None:
        doubts.append(rival)
    elif layout.kind != "none":
        raised = _raised(places, cents, s)
    others_off = layout.kind == "lever" and bool(raised) and all(on[int(k)] for k in places)
    if rival is None and layout.kind == "lever" and not others_off:
        lowered = tuple(k for k in _raised(places, -cents, s) if on[k])
    names = [string.string for string in layout.strings]
    if others_off:
        doubts.append(_others_off([names[k] for k in raised]))
    elif rival is None and (even := _even_semitones(middle, spread, tuning, s)) is not None:
        doubts.append(even)
    if raised and not others_off:
        doubts.append(_single([names[k] for k in raised], layout))
    if lowered:
        doubts.append(_single_off([names[k] for k in lowered]))
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
        raised=raised,
        lowered=lowered,
        others_off=others_off,
    )


def other_layout(sounds_hz: Vector, middle_cents: float, layout: Layout, settings: DoubtSettings) -> Doubt | None:
    """Whether the first partials (S,) of all that rang like strings are those of a harp with more strings.

    A string plucked again comes at the pitch it had, and what a person says lies within the harp's range: only where
    sounds of other pitches than all before are more than the strings, and go beyond the harp's range, is it asked.
    """
    s = settings
    others = sorted(float(hz) for k, hz in enumerate(sounds_hz) if _new(float(hz), sounds_hz[:k], s.same_cents))
    if len(others) < len(layout.strings) + s.other_layout_n or middle_cents > -s.other_layout_cents:
        return None
    notes_hz = [t.target_hz for t in make_tuning(layout).targets]
    if 1200 * np.log2(others[-1] / others[0] / (notes_hz[-1] / notes_hz[0])) < s.other_range_cents:
        return None
    return Doubt(
        code=LAYOUT,
        sentence=(
            f"There are {len(sounds_hz)} sounds that ring like strings for {len(layout.strings)} strings, and read so"
            f" all lie about {-middle_cents / 100:.0f} semitones low: is --layout {layout.name} this harp's? If not,"
            " analyse again with the layout that is; if so, analyse again with the --first and the --last string that"
            " were plucked."
        ),
    )


def unsaid_key(leads: Mapping[str, float], tuning: Tuning, settings: DoubtSettings) -> Doubt | None:
    """Whether another usual key of the open strings explains the recordings about as well as the one assumed, or
    better: `leads` by key, natural log. The usual keys, and the one assumed, are all major."""
    s = settings
    key = max(leads, key=lambda key: leads[key], default=None)
    if key is None or leads[key] < -s.key_close:
        return None
    how = f"better in {key} major than in" if leads[key] > s.key_close else f"about as well in {key} major as in"
    return Doubt(
        code=KEY,
        sentence=(
            f"Nobody said which key the open strings are tuned to, and the recording reads {how} {tuning.key} major:"
            " every name may be another string's. Play a scale on the harp, and analyse again with"
            f" --tuning {key} or --tuning {tuning.key}."
        ),
    )


def _new(hz: float, before_hz: Vector, same_cents: float) -> bool:
    """Whether no sound before had this pitch."""
    return bool(np.all(np.abs(1200 * np.log2(before_hz / hz)) > same_cents))


def _others_off(names: list[str]) -> Doubt:
    lie, their, notes = ("lies", "its", "note") if len(names) == 1 else ("lie", "their", "notes")
    return Doubt(
        code=LEVERS,
        sentence=(
            f"Only {in_words(names)} {lie} near {their} {notes}, and all others about a semitone below, though all"
            " levers were said to be on: were those of the others off? If so, analyse again with --levers"
            f" {','.join(names)}."
        ),
        strings=tuple(names),
    )


def _single(names: list[str], layout: Layout) -> Doubt:
    stand, their = ("stands", "its") if len(names) == 1 else ("stand", "their")
    if layout.kind == "pedal":
        ask = "is there a disc that does not release? Have that looked at before it is tuned."
    elif len(names) == 1:
        ask = "is its lever engaged? If so, put it off and record that string again, or analyse again with all levers"
        ask += " that were on."
    else:
        ask = "are their levers engaged? If so, put them off and record those strings again, or analyse again with all"
        ask += " levers that were on."
    return Doubt(
        code=RAISED,
        sentence=f"{in_words(names)} {stand} about a semitone above {their} neighbours: {ask}",
        strings=tuple(names),
    )


def _single_off(names: list[str]) -> Doubt:
    stand, their = ("stands", "its") if len(names) == 1 else ("stand", "their")
    lever = "was its lever, said to be on, off" if len(names) == 1 else "were their levers, said to be on, off"
    return Doubt(
        code=LOWERED,
        sentence=(
            f"{in_words(names)} {stand} about a semitone below {their} neighbours: {lever}? If so, analyse again with"
            " all levers that were on."
        ),
        strings=tuple(names),
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
        code=KEY,
        sentence=(
            f"The strings fit {best[1]} clearly better than {tuning.setting}: set like that, neighbouring strings would"
            f" agree to about {max(best[0], 0.0) ** 0.5:.0f} cents instead of {own**0.5:.0f}. Look at the levers or"
            f" pedals. If they are set for {best[1]}, analyse again with --tuning {best[1]} (and --levers or"
            f" --pedals); if not, say so by giving --tuning and --levers or --pedals as they are."
        ),
    )


def _even_semitones(middle: float, scatter: float, tuning: Tuning, s: DoubtSettings) -> Doubt | None:
    steps = round((middle + s.gone_flat_cents / 2) / 100)
    whole = -s.semitone_cents - s.gone_flat_cents <= middle - 100 * steps <= s.semitone_cents
    whole = whole and 0 < abs(steps) <= s.most_steps
    if not whole or scatter > s.even_cents:
        return None
    way = "below" if steps < 0 else "above"
    count = "a semitone" if abs(steps) == 1 else f"{abs(steps)} semitones"
    if steps < 0:
        why = f"That may be slackness, or the harp is set to another key than {tuning.setting}."
    else:
        why = f"No slack harp is too high: it is probably set to another key than {tuning.setting}."
    return Doubt(
        code="semitone" if steps < 0 else "semitone above",
        sentence=(
            f"Every string lies about {count} {way} its target, very evenly (within {scatter:.0f} cents). {why}"
            f" Look at the levers or pedals and give --tuning and --levers or --pedals as they are."
        ),
    )


def _raised(places: Vector, cents: Vector, s: DoubtSettings) -> tuple[int, ...]:
    """Single strings about a semitone above the common deviation of their neighbours, on a harp that agrees."""
    found: list[int] = []
    if float(np.quantile(np.abs(cents - _smooth(places, cents)), s.raised_share)) > s.raised_scatter_cents:
        return ()
    for k, p in enumerate(places):
        around = (np.abs(places - p) <= s.neighbours) & (places != p)
        if around.sum() < 2:
            continue
        above = cents[k] - float(np.median(cents[around]))
        spread = float(np.median(np.abs(cents[around] - np.median(cents[around]))))
        if abs(above - 100) < s.raised_cents and spread < s.raised_spread_cents:
            found.append(int(p))
    return tuple(found)
