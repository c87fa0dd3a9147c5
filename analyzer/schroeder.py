"""Backward integration: the power of a decaying sound over time to its decay curve and decay time.

Task. From power sampled at even steps to the energy still to come at every moment, in dB against the whole, and the
time that a straight line through part of that curve needs to fall by 60 dB. Being a sum of energies, it passes over
beats and noise that make the level itself jump about.

Method. Schroeder, JASA 37 (1965) 409. What comes after the last value (the sound went under in noise, or was cut) is
no silence but has an energy of its own, handed in as `after` (Lundeby et al., Acustica 81 (1995) 344). Ranges of the
line follow ISO 3382: EDT 0 to -10 dB, T20 -5 to -25, T30 -5 to -35.

Conventions. Powers are linear and free of noise; times in seconds; T60 in seconds for 60 dB.
"""

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]
Table = NDArray[np.float64]

DB = 10 / np.log(10)
"""Decibels to a unit of natural logarithm of power."""

NEPERS_60 = 6 * np.log(10)
"""Natural logarithm of the power ratio of 60 dB: an exponential of decay time T60 holds power·T60/NEPERS_60."""


def curve_db(power: Table, step_s: float, after: float | Vector = 0.0) -> Table:
    """Energy from each value of `power` (along its last axis) on, `after` the last one included, in dB of the whole."""
    energy = np.cumsum(power[..., ::-1], axis=-1)[..., ::-1] * step_s + np.asarray(after)[..., None]
    return np.asarray(DB * np.log(np.maximum(energy / energy[..., :1], 1e-12)))


def decay_time_s(times_s: Vector, curve: Vector, from_db: float, to_db: float, least_values: int = 3) -> float | None:
    """T60 of the straight line through `curve` between two levels; None where it has too few values or rises."""
    part = (curve <= from_db) & (curve >= to_db)
    if int(part.sum()) < least_values:
        return None
    x = times_s[part] - float(times_s[part].mean())
    slope = float(x @ curve[part]) / float(x @ x)
    return -60 / slope if slope < 0 else None
