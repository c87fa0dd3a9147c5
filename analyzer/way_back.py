"""The way back through the plucks of one recording: from what `trellis` found to each event's probabilities.

Task. Given the states after each event by what was heard until then, find the probability, by the whole recording, of
every way in which each event came about: going on to a string (or a tap in its place), plucking it again, going back
to one before, or no string.

Method. The backward half of forward-backward, each event scaled as on the way there (Rabiner, Proc. IEEE 77 (1989)
257); expected counts are summed over the hypotheses with their weights.

Conventions. As in `trellis`: arrays are (H, owed, marks, deviations).
"""

from dataclasses import dataclass

import numpy as np

from analyzer.trellis import TINY, Array, Index, Passage, Step


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """Expected counts of one direction, summed over its hypotheses with their weights; along the direction."""

    strings: Array
    """(N, S)"""
    tapped: Array
    """(N, S) that the event is a tap in the place of a string; part of `none`."""
    none: Array
    again: Array
    back: Array
    deviation: Array
    """(N,) weight times common deviation."""


def read_back(passage: Passage, keep: Index, weight: Array, offsets: Array) -> Read:
    """The way back for the hypotheses `keep` (ids, ascending), each counting `weight`."""
    c, events = passage.course, len(passage.steps)
    strings = np.zeros((events, passage.count + passage.reach))
    tapped = np.zeros((events, passage.count))
    none, again, slipped, deviation = (np.zeros(events) for _ in range(4))
    last = passage.steps[-1]
    high = last.low + last.alpha.shape[2]
    beta = np.zeros((len(keep), *last.alpha.shape[1:]), dtype=np.float32)
    beta[:, 0] = c.stop[keep, last.low : high, None]
    beta *= (weight.astype(np.float32) / passage.ending[np.searchsorted(passage.rows, keep)])[:, None, None, None]
    for t in range(events - 1, -1, -1):
        step = passage.steps[t]
        at = np.searchsorted(step.rows, keep)
        size, low = step.alpha.shape[2], step.low
        unscale = np.exp(-step.log_scale[at]).astype(np.float32)
        scaled = beta * unscale[:, None, None, None]
        emission, past = step.emission[at], step.past[at]
        both = (past * scaled).sum(axis=1)
        mass = both.sum(axis=2)
        place = low + passage.reach
        arrived = (step.new[at] * beta).sum(axis=1)
        plucked = emission[:, passage.reach :] / (step.arrival[at] + TINY)
        strings[t, place : place + size] += (arrived * plucked).sum(axis=(0, 2))
        tapped[t, low : low + size] = (arrived * (1 - plucked)).sum(axis=(0, 2))
        repeated = (mass * step.stays.again[at]).sum(axis=0)
        strings[t, place : place + size] += repeated
        again[t] = repeated.sum()
        for k in range(1, passage.reach + 1):
            heard = emission[:, passage.reach - k : passage.reach - k + size]
            gone = np.zeros(size)
            if k <= len(c.back):
                gone += (mass * step.stays.back_alike[at, k - 1]).sum(axis=0)
                gone += step.stays.back_new[k - 1] * (both * heard).sum(axis=(0, 2))
            if k < passage.owed:
                gone += passage.onward * passage.s.pay * (past[:, k] * heard * scaled[:, 0]).sum(axis=(0, 2))
            strings[t, place - k : place - k + size] += gone
            slipped[t] += gone.sum()
        here = (step.alpha[at] * beta).sum(axis=(0, 1, 2))
        deviation[t] = float(here @ offsets[step.deviations])
        none[t] = max(0.0, float(weight.sum()) - float(strings[t].sum()))
        if t:
            beta = _before(passage, passage.steps[t - 1], step, at, keep, scaled, emission)
    return Read(
        strings=strings[:, passage.reach :], tapped=tapped, none=none, again=again, back=slipped, deviation=deviation
    )


def _before(
    passage: Passage, earlier: Step, step: Step, at: Index, keep: Index, scaled: Array, emission: Array
) -> Array:
    """Beta of the event before, on that event's marks."""
    c, s, low, size = passage.course, passage.s, step.low, scaled.shape[2]
    deviations = step.deviations
    high, onward, pay = low + size, passage.onward * (1 - s.pay), passage.onward * s.pay
    ahead = scaled * step.arrival[at][:, None]
    walked = np.zeros_like(scaled)
    walked[:, 0] = passage.onward * (c.go[keep, :, low:high, low:high] @ ahead).sum(axis=1)
    for p in range(1, passage.owed):
        for k in range(1, min(passage.owed - p, size)):
            carry = np.diagonal(c.carry[keep, low:high, low:high], offset=k, axis1=1, axis2=2)
            walked[:, p, :-k] += onward * carry[:, :, None] * ahead[:, p + k, k:]
    beta = walked @ c.walk[keep, None, deviations, deviations].transpose(0, 1, 3, 2)
    beta += scaled * step.stays.every[at][:, None]
    for p in range(1, passage.owed):
        beta[:, p] += pay * emission[:, passage.reach - p : passage.reach - p + size] * scaled[:, 0]
    out = np.zeros((len(keep), *earlier.alpha.shape[1:]), dtype=np.float32)
    marks, moved = earlier.low - low, earlier.deviations.start - deviations.start
    first, last = max(0, marks), min(size, marks + out.shape[2])
    left, right = max(0, moved), min(beta.shape[3], moved + out.shape[3])
    out[:, :, first - marks : last - marks, left - moved : right - moved] = beta[:, :, first:last, left:right]
    return out
