"""How bright a string sounds, as far as that is the string's doing and not the player's.

Task. The level of a pluck's higher partials (4 and up) against its lowest three, corrected for where it was plucked.

Method. An ideal string plucked at the share b of its length starts its partials as sin(n·π·b)/n (Fletcher & Rossing,
The Physics of Musical Instruments, 2nd ed., 2.7, from memory): partials near the multiples of 1/b are left out. The
place is taken as that whose comb, with a straight slope in dB per octave, fits the levels best; its comb is then taken
off, never more than `comb_most_db` of it. How strong the pluck was drops out of the ratio.

Known limits. With fewer than five partials the place is not looked for, and nothing is corrected. A place and its
mirror image give one comb. A finger's width dulls like a soft string does: brightness alone is no evidence of dullness.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analyzer.decay import PartialDecay
from analyzer.settings import ConditionSettings

Vector = NDArray[np.float64]


def brightness_db(partials: Sequence[PartialDecay], settings: ConditionSettings) -> float | None:
    """Level of partials 4 and up against 1 to 3, dB, comb taken off; None where either group is missing."""
    number = np.array([p.number for p in partials], dtype=float)
    level_db = np.array([p.level_db for p in partials])
    high = number > LOWEST
    if not high.any() or high.all():
        return None
    level_db = level_db - plucked_comb_db(number, level_db, settings)
    power = 10 ** (level_db / 10)
    return float(10 * np.log10(power[high].sum() / power[~high].sum()))


LOWEST = 3
"""Partials up to this are the string's body of sound, those above its brightness."""


def plucked_comb_db(number: Vector, level_db: Vector, settings: ConditionSettings) -> Vector:
    """(N,) dB that the plucking point takes off each partial; zeros where it cannot be told."""
    s = settings
    if len(number) < s.comb_least_partials:
        return np.zeros(len(number))
    columns, _ = np.linalg.qr(np.column_stack([np.ones_like(number), np.log2(number)]))
    places = np.linspace(*s.comb_places)
    comb = np.abs(np.sin(np.pi * number * places[:, None]))
    comb_db = 20 * np.log10(np.maximum(comb, 10 ** (-s.comb_most_db / 20)))
    rest = level_db - comb_db
    misfit = np.sum((rest - rest @ columns @ columns.T) ** 2, axis=1)
    best = int(misfit.argmin())
    flat = float(np.sum((level_db - columns @ (columns.T @ level_db)) ** 2))
    return comb_db[best] if misfit[best] < s.comb_gain * flat else np.zeros(len(number))
