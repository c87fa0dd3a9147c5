"""What a string loses: the decay of its partials fitted to a physical law, and a check that needs no good neighbours.

Task. From each partial's T60 to loss factors, and from those to a law of three terms that belongs to the string; from
all strings of a harp, whether it as a whole is damped as physics and, where there is one, a reference harp lead one to
expect.

Method. A partial of frequency f with loss factor e dies by 60 dB in T60 = ln(10^6)/(2·pi·f·e) = 2.1988/(f·e). Of
partial n: e_n = a/n + i + b·n²: air and radiation (a constant loss in time), internal friction, and bending, b = B·e_E
(Woodhouse, Euphonics, 7.2.2). All three are at least 0; the fit is in errors relative to the law itself, which it is
repeated for (non-negative least squares: Lawson & Hanson, Solving Least Squares Problems (1974), ch. 23): relative to
what was measured, low losses would count for more and the law come out a tenth too low. The string's figure is the
law's loss factor of one partial that most strings have.

Conventions. Loss factors are plain numbers. No validated threshold for an old harp string exists; the limit used for
the whole harp is stated with its reason and is never a verdict on one string.

Known limits. A soundboard takes energy unevenly, so that single partials scatter about the law by a third; a string of
which fewer than four partials were followed has no law. Against a reference, another room or recorder counts as
damping: `LossSettings.other_recording` says how much that may be.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.decay import PartialDecay
from analyzer.settings import LossSettings

Vector = NDArray[np.float64]

T60_LOSS = float(np.log(1e6) / (2 * np.pi))
"""2.1988: T60 times frequency times loss factor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """The law of one string's losses."""

    air: float
    """a: constant in time, as a loss factor of the first partial."""
    internal: float
    """i: the same for all partials."""
    bending: float
    """b: grows with the square of the partial's number."""
    typical: float
    """Loss factor of partial `LossSettings.typical_number` by the law: the figure that belongs to the string."""
    typical_u95: float
    """Half-width of its 95 % interval."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeDamping:
    """Whether a harp as a whole is strongly damped."""

    typical_loss: float | None
    """Median over its strings of the loss factor of the third partial, by the laws; None with too few strings."""
    high: bool | None
    """True where that is more than strings in good order lose."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AgainstReference:
    """The damping of a harp's strings over that of the same notes in another survey."""

    ratio: float
    """Median over the strings that both have; 2: damped twice as much."""
    low: float
    high: float
    """Its 95 % interval, from how far the strings scatter."""
    strings_n: int
    more: tuple[int, ...]
    """Indices of strings damped clearly more even than this harp's others are."""

    def beyond(self, limit: float) -> bool:
        """Whether damping is higher than `limit` times the reference's, its interval considered."""
        return self.low > limit


def loss_factor(frequency_hz: float, t60_s: float) -> float:
    """Loss factor of a partial."""
    return T60_LOSS / (frequency_hz * t60_s)


def fit_law(partials: Sequence[PartialDecay], settings: LossSettings) -> Loss | None:
    """The law through a string's partials; None with too few of them."""
    import scipy.optimize

    s = settings
    if len(partials) < s.least_partials:
        return None
    columns = _terms(np.array([p.number for p in partials], dtype=float))
    measured = np.array([loss_factor(p.frequency_hz, p.t60_s) for p in partials])
    deviation = np.hypot([p.t60_log_deviation for p in partials], s.partial_scatter)
    by_law, terms = measured, np.zeros(3)
    for _ in range(s.rounds):
        weight = 1 / (by_law * deviation)
        terms, _ = scipy.optimize.nnls(columns * weight[:, None], measured * weight)
        by_law = columns @ terms
    scaled = columns / (by_law * deviation)[:, None]
    at = _terms(np.array([float(s.typical_number)]))[0]
    variance = float(at @ np.linalg.inv(scaled.T @ scaled) @ at)
    return Loss(
        air=float(terms[0]),
        internal=float(terms[1]),
        bending=float(terms[2]),
        typical=float(at @ terms),
        typical_u95=float(s.coverage * s.law_doubt * np.sqrt(variance)),
    )


def _terms(number: Vector) -> Vector:
    """What each of the three losses is of partials `number` (N,), shape (N, 3)."""
    return np.column_stack([1 / number, np.ones_like(number), number**2])


def whole_damping(laws: Sequence[Loss | None], settings: LossSettings) -> WholeDamping:
    """Judge a harp by the laws of its strings."""
    own = [law.typical for law in laws if law is not None]
    if len(own) < settings.least_strings:
        return WholeDamping(typical_loss=None, high=None)
    typical = float(np.median(own))
    return WholeDamping(typical_loss=typical, high=typical > settings.high_loss)


Rung = tuple[float, Mapping[int, float]]
"""A string: its pitch in Hz, and for each partial followed, by number, its T60 in seconds."""


def against(strings: Sequence[Rung], reference: Sequence[Rung], settings: LossSettings) -> AgainstReference | None:
    """Compare a harp with another, note by note and partial by partial; None with too few notes that both have."""
    s = settings
    logs: dict[int, float] = {}
    for k, (hz, t60_s) in enumerate(strings):
        near = min(reference, key=lambda other: abs(np.log(other[0] / hz)), default=None)
        if near is None or abs(1200 * np.log2(near[0] / hz)) > s.same_note_cents:
            continue
        both = [float(np.log(near[1][n] / t60_s[n])) for n in t60_s if n in near[1]]
        if len(both) >= s.least_common:
            logs[k] = float(np.median(both))
    if len(logs) < s.least_strings:
        return None
    ratios = np.array(list(logs.values()))
    middle = float(np.median(ratios))
    scatter = float(np.median(np.abs(ratios - middle))) * NORMAL_MAD
    half = s.coverage * MEDIAN_LOSS * scatter / np.sqrt(len(ratios))
    clearly = middle + max(s.clearly * scatter, np.log(s.other_recording))
    return AgainstReference(
        ratio=float(np.exp(middle)),
        low=float(np.exp(middle - half)),
        high=float(np.exp(middle + half)),
        strings_n=len(ratios),
        more=tuple(k for k, log in logs.items() if log > clearly),
    )


NORMAL_MAD = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""
MEDIAN_LOSS = float(np.sqrt(np.pi / 2))
"""Standard deviation of a median over that of the mean, of many normal values."""
