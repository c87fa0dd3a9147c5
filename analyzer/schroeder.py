"""Backward integration: the power of a decaying sound over time to its decay curve.

Task. From power sampled at even steps to the energy still to come at every moment, in dB against the whole; a straight
line through part of that curve (`level_rows`) gives the decay time. Being a sum of energies, it passes over beats and
noise that make the level itself jump about.

Method. Schroeder, JASA 37 (1965) 409. What comes after the last value (the sound went under in noise, or was cut) is
no silence but has an energy of its own, handed in as `after` (Lundeby et al., Acustica 81 (1995) 344).

Conventions. Powers are linear and free of noise; times in seconds.
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
