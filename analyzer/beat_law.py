"""The beats of one string's partials weighed together: what they have in common makes each rate surer.

Task. From the beat rates of one pluck's partials, each fitted for itself (`beat_fit`), to what all of them say of each.

Method. An uneven string's two planes differ in proportion, so that partials n beat at n times the first's rate; but
planes coupled to the soundboard, and other strings that answer, beat as they like. So the splits (rate over frequency)
are taken for draws about a common one, scattered by an unknown share of it, from next to nothing to as much again, and
each may be a stray that has nothing to do with the others. All of it is summed over a grid of the common split and of
the scatter (a hierarchical model: Gelman et al., Bayesian Data Analysis, 3rd ed., ch. 5): where partials agree more
closely than chance explains, each is drawn to the others and its interval narrows; where they do not, each stays as it
was.

Conventions. Rates in Hz; splits are shares of the partial's frequency; half-widths are of 95 % intervals.

Known limits. Where a partial may follow or stray, its rate is the mean of the two answers, its interval holds both.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import FalseSettings

Vector = NDArray[np.float64]


def weighed(
    frequencies_hz: Sequence[float], rates_hz: Sequence[float], u95_hz: Sequence[float], settings: FalseSettings
) -> tuple[Vector, Vector]:
    """(rates in Hz, half-widths of their 95 % intervals), shape (N,) each, of N partials by all of them."""
    s = settings
    hz, own_hz, own_u95_hz = (np.asarray(v, dtype=float) for v in (frequencies_hz, rates_hz, u95_hz))
    if len(hz) < 2:
        return own_hz, own_u95_hz
    split, variance = own_hz / hz, (own_u95_hz / s.coverage / hz) ** 2
    common, width = _grid(split, np.sqrt(variance), s)
    scatter = np.geomspace(*s.law_scatters, s.law_scatter_steps)
    # Axes: scatter, common split, partial
    around = ((scatter[:, None] * common) ** 2)[:, :, None]
    off = split - common[:, None]
    like = s.law_share * np.exp(-0.5 * off**2 / (variance + around)) / np.sqrt(2 * np.pi * (variance + around))
    alone = (1 - s.law_share) * hz / s.most_hz
    log_worth = np.sum(np.log(like + alone), axis=2) + np.log(width)
    worth = np.exp(log_worth - log_worth.max())[:, :, None]
    worth /= worth.sum()
    follows = worth * like / (like + alone)
    own_weight = around / (variance + around)
    drawn = common[:, None] + own_weight * off
    share = follows.sum(axis=(0, 1))
    mean = np.sum(follows * drawn, axis=(0, 1)) + (1 - share) * split
    square = np.sum(follows * ((drawn - mean) ** 2 + own_weight * variance), axis=(0, 1))
    square += (1 - share) * ((split - mean) ** 2 + variance)
    return mean * hz, np.maximum(s.coverage * np.sqrt(square) * hz, s.least_u95_hz)


def _grid(split: Vector, deviation: Vector, s: FalseSettings) -> tuple[Vector, Vector]:
    """(common splits to try, how much each stands for): close together where a partial's reading is sharp."""
    about = np.linspace(-s.law_reach, s.law_reach, s.law_steps)
    at = np.unique((split[:, None] + deviation[:, None] * about).ravel())
    at = at[at > 0]
    return at, np.gradient(at)
