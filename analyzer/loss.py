"""What a string loses: the decay of its partials fitted to a physical law, and a check that needs no good neighbours.

Task. From each partial's T60 to loss factors, and from those to a law of three terms that belongs to the string; from
all strings of a harp, whether it as a whole is damped as physics and, where there is one, a reference harp lead one to
expect.

Method. A partial of frequency f with loss factor e dies by 60 dB in T60 = ln(10^6)/(2·pi·f·e) = 2.1988/(f·e). Of
partial n: e_n = a/n + i + b·n²: air and radiation (a constant loss in time), internal friction, and bending, b = B·e_E
(Woodhouse, Euphonics, 7.2.2). All three are at least 0; the fit is in relative errors (non-negative least squares:
Lawson & Hanson, Solving Least Squares Problems (1974), ch. 23).

Conventions. Loss factors are plain numbers. No validated threshold for an old harp string exists; the limit used for
the whole harp is stated with its reason and is never a verdict on one string.

Known limits. A soundboard takes energy unevenly, so that single partials scatter about the law by a third; a string of
which fewer than four partials were followed has no law.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.decay import PartialDecay
from analyzer.settings import LossSettings

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
    log_scatter: float
    """Standard deviation of ln loss of single partials about the law."""
    partials_n: int

    def at(self, number: int) -> float:
        """Loss factor of partial `number` by the law."""
        return self.air / number + self.internal + self.bending * number**2


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeDamping:
    """Whether a harp as a whole is strongly damped."""

    typical_loss: float | None
    """Median over its strings of the loss factor of the third partial, by the laws; None with too few strings."""
    high: bool | None
    """True where that is more than strings in good order lose."""
    against_reference: float | None
    """Damping over a reference recording's, median over the notes both have; None without one."""


def loss_factor(frequency_hz: float, t60_s: float) -> float:
    """Loss factor of a partial."""
    return T60_LOSS / (frequency_hz * t60_s)


def fit_law(partials: Sequence[PartialDecay], settings: LossSettings) -> Loss | None:
    """The law through a string's partials; None with too few of them."""
    import scipy.optimize

    if len(partials) < settings.least_partials:
        return None
    number = np.array([p.number for p in partials], dtype=float)
    loss = np.array([loss_factor(p.frequency_hz, p.t60_s) for p in partials])
    weight = 1 / (loss * np.hypot([p.t60_log_deviation for p in partials], settings.partial_scatter))
    columns = np.column_stack([1 / number, np.ones_like(number), number**2])
    solution, _ = scipy.optimize.nnls(columns * weight[:, None], loss * weight)
    rest = np.log(loss / np.maximum(columns @ solution, 1e-9))
    return Loss(
        air=float(solution[0]),
        internal=float(solution[1]),
        bending=float(solution[2]),
        log_scatter=float(np.sqrt(np.mean(rest**2))),
        partials_n=len(partials),
    )


def whole_damping(
    strings: Sequence[tuple[float, Loss | None]],
    reference: Sequence[tuple[float, Loss | None]],
    settings: LossSettings,
) -> WholeDamping:
    """Judge a harp from (pitch in Hz, law) of its strings; `reference` is another harp's, empty without one."""
    own = [law.at(settings.typical_number) for _, law in strings if law is not None]
    if len(own) < settings.least_strings:
        return WholeDamping(typical_loss=None, high=None, against_reference=None)
    typical = float(np.median(own))
    ratios = []
    for hz, law in strings:
        near = min((r for r in reference if r[1] is not None), key=lambda r: abs(np.log(r[0] / hz)), default=None)
        if law is None or near is None or near[1] is None:
            continue
        if abs(1200 * np.log2(near[0] / hz)) < settings.same_note_cents:
            ratios.append(np.log(law.at(settings.typical_number) / near[1].at(settings.typical_number)))
    return WholeDamping(
        typical_loss=typical,
        high=typical > settings.high_loss,
        against_reference=float(np.exp(np.median(ratios))) if len(ratios) >= settings.least_strings else None,
    )
