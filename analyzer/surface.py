"""What the other strings of a harp lead one to expect: a smooth surface over strings and partials.

Task. Values measured on partials of strings (ln of decay rates, here) vary smoothly with the string's place and the
partial's number, step where the material changes, and scatter from string to string and from partial to partial. From
all strings but one: what that one should read, and how far it departs, with the doubt of both.

Method. A Gaussian process (Rasmussen & Williams, Gaussian Processes for Machine Learning (2006), ch. 2): a level and
slopes of unknown size, a curve common to all partials, one that changes with the partial, a step of unknown size
between materials, and two independent scatters. What the soundboard takes goes by the frequency, whichever string and
partial has it (by the admittance at the bridge: Woodhouse, Euphonics, 5.1.2): two curves run along the frequency, a
wide one and one as narrow as a resonance. The smooth part is written as some hundred columns (the leading eigenvectors
of each kernel), so that no large matrix is inverted. All strings are left out in turn at once: with Q the inverse of
the covariance of the values y, the values of string k depart from what all others lead one to expect by Q_kk^-1 (Qy)_k,
with covariance Q_kk^-1 (block form of the leave-one-out formulas, ibid. 5.4.2).

Conventions. Values in natural logarithms. A section is a soft hint: strings of one material share a step whose size is
drawn from `step_scatter`, so a wrong section costs little.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import ConditionSettings

Vector = NDArray[np.float64]
Table = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """Flat arrays, one entry for each measured partial."""

    string: NDArray[np.int64]
    """Index 0 … K-1 of the string, in order; every index occurs."""
    place: Vector
    """Of its string in the layout."""
    section: NDArray[np.str_]
    number: Vector
    """Of the partial, from 1."""
    hz: Vector
    """Where it sounds."""
    value: Vector
    deviation: Vector
    """Standard deviation of its measurement."""
    level_db: Vector
    """How loud the partial is at first, against anything."""


class Rows:
    """The values of K strings in rows as long as the longest, W; what fills up the shorter ones is 0."""

    def __init__(self, string: NDArray[np.int64]) -> None:
        """`string` (N,) of each value, as in `Points`."""
        count = np.bincount(string)
        self.inside: NDArray[np.bool_] = np.arange(count.max()) < count[:, None]
        """(K, W)"""

    def of(self, values: Table, fill: float = 0.0) -> Table:
        """(N, …) in rows: (K, W, …)."""
        out = np.full((*self.inside.shape, *values.shape[1:]), fill)
        out[self.inside] = values
        return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Departures:
    """How each string's values stand against all other strings'."""

    error: Table
    """(K, W) how far each string's values lie from what the others lead one to expect."""
    covariance: Table
    """(K, W, W) of that, for a string whose own scatter is as stated; the unit matrix where rows are filled up."""
    surprise: Vector
    """(N,) each value against all others (leaving only itself out), in standard deviations."""


def columns(place: Vector, number: Vector, section: NDArray[np.str_], s: ConditionSettings) -> Table:
    """(N, R) whose product with its transpose is the covariance of the smooth part: level, slopes, curves, steps; of
    values at these places in the layout, of partials of these numbers, in these sections."""
    scaled = (place - place.mean()) / s.place_scale
    log_number = np.log(number)
    level = s.level_scatter * np.column_stack([np.ones_like(scaled), scaled, log_number])
    along = _leading(place, s.reach_strings, s)
    across = _leading(log_number, s.reach_number, s)
    own = (along[:, :, None] * across[:, None, :]).reshape(len(place), -1)
    _, code = np.unique(section, return_inverse=True)
    step = s.step_scatter * (code[:, None] == np.arange(int(code.max()) + 1))
    return np.hstack([level, s.curve_scatter * along, s.curve_scatter * own, step])


def body_columns(hz: Vector, s: ConditionSettings) -> Table:
    """(N, R) the like for what the soundboard takes at each frequency: a wide curve and a narrow one."""
    log_hz = s.log_hz_step * np.round(np.log(hz) / s.log_hz_step)
    wide = s.wide_scatter * _leading(log_hz, s.reach_wide, s)
    return np.hstack([wide, s.body_scatter * _leading(log_hz, s.reach_body, s)])


def _leading(values: Vector, reach: float, s: ConditionSettings) -> Table:
    """(N, R) columns of the Gaussian kernel of that reach, by its leading eigenvectors over the distinct values."""
    distinct, code = np.unique(values, return_inverse=True)
    kernel = np.exp(-0.5 * ((distinct[:, None] - distinct) / reach) ** 2)
    size, vectors = np.linalg.eigh(kernel)
    large = size > s.least_eigenvalue * size[-1]
    return np.asarray((vectors[:, large] * np.sqrt(size[large]))[code])


def departures(smooth: Table, rows: Rows, values: Vector, scatter: Table, shift: Vector) -> Departures:
    """Each string's `values` (N,) against all others', given the (N, R) `columns` of the smooth part.

    `scatter` (K, W, W): covariance of each string's values about the surface, the unit matrix where rows are filled up;
    `shift` (N,) what each value is taken to depart by as a neighbour's (it is added back to its own string's).
    """
    inverse = np.linalg.inv(scatter)
    in_rows = rows.of(smooth)
    whitened = (inverse @ in_rows)[rows.inside]
    core = np.linalg.cholesky(np.eye(smooth.shape[1]) + smooth.T @ whitened)
    spread = np.linalg.solve(core, whitened.T).T
    value = (inverse @ rows.of(values - shift)[:, :, None])[:, :, 0][rows.inside]
    pulled = value - spread @ np.linalg.solve(core, smooth.T @ value)
    own = rows.of(spread)
    precision = inverse - own @ own.transpose(0, 2, 1)
    covariance = np.linalg.inv(precision)
    error = (covariance @ rows.of(pulled)[:, :, None])[:, :, 0] + rows.of(shift)
    certain = np.diagonal(precision, axis1=1, axis2=2)[rows.inside]
    return Departures(
        error=error,
        covariance=np.asarray(covariance, dtype=float),
        surprise=pulled / np.sqrt(np.maximum(certain, 1e-12)),
    )
