"""What a person does who plucks through a harp, as probabilities: where they begin, go on to and end.

Strings are counted along the direction of plucking. Each may be skipped for good (missing, or not worth the pluck), be
tapped for (a knock in the place of a missing string, where that is the person's habit), or be passed over by a slip of
the hand and still *owed*, to be plucked within the next few. The harp's common deviation walks
at random from one mark (the furthest string reached) to the next, as neighbours were let down together.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import MatchSettings

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """What the person does, as probabilities; H hypotheses, S strings along the direction of plucking."""

    go: Array
    """(H, owed, S, S): from mark to mark, leaving something owed so many strings before the new one."""
    carry: Array
    """(H, S, S): from mark to mark while something is owed already."""
    start: Array
    """(H, owed, S) of the first pluck."""
    stop: Array
    """(H, S) of ending at each mark."""
    back: tuple[float, ...]
    """Shares of falling back one, two, … strings; empty where there is no order."""
    walk: Array
    """(H, O, O) of the common deviation, from one mark to the next."""
    begin: Array
    """(O,) prior of the common deviation."""
    tap: Array
    """(H, S) how much likelier than a pluck a tap in its place is, of a string that the person comes to."""
    log_prior: Array
    """(H,)"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypotheses:
    """H combinations of how the harp scatters, how readily strings are skipped, and whether those are tapped for."""

    scatter: Index
    """(H,) place among `MatchSettings.scatters`."""
    skip: Array
    """(H, S) probability that a string is not plucked, along the direction of plucking."""
    tapped: Array
    """(H,) share of the strings not plucked that are tapped for."""
    log_prior: Array
    """(H,)"""


def hypotheses(missing: NDArray[np.bool_] | None, count: int, *, taps: bool, s: MatchSettings) -> Hypotheses:
    """All combinations; `missing` (S,) where the person said which strings are missing. `taps`: may there be any?"""
    skips = s.skips if missing is None else ((s.skip_when_told, 1.0),)
    habits = [(skip, 0.0, weight * (1 - s.tap_habit * taps)) for skip, weight in skips]
    if taps:
        habits.append((s.tap_skip if missing is None else s.skip_when_told, s.tapped, s.tap_habit))
    rows = [
        (i, skip, tapped, np.log(weight * share))
        for i, (_, _, share) in enumerate(s.scatters)
        for skip, tapped, weight in habits
    ]
    each = np.array([np.full(count, skip) for _, skip, _, _ in rows])
    return Hypotheses(
        scatter=np.array([i for i, _, _, _ in rows]),
        skip=each if missing is None else np.where(missing, 1 - s.skip_when_told, each),
        tapped=np.array([tapped for _, _, tapped, _ in rows]),
        log_prior=np.array([prior for _, _, _, prior in rows]),
    )


def in_order(h: Hypotheses, offsets_cents: Array, *, whole: bool, s: MatchSettings) -> Course:
    """Along the strings. `whole`: from one end of the harp to the other, rather than any part of it."""
    moves = [_moves(skip, tapped, whole, s) for skip, tapped in zip(h.skip, h.tapped, strict=True)]
    go = np.array([m[1] for m in moves])
    return Course(
        go=go,
        carry=go[:, 0],
        start=np.array([m[0] for m in moves]),
        stop=np.array([m[2] for m in moves]),
        back=s.slips,
        walk=_walks(offsets_cents, s)[h.scatter],
        begin=_begin(offsets_cents, s),
        tap=h.tapped[:, None] * h.skip / (1 - h.skip),
        log_prior=h.log_prior,
    )


def in_any_order(h: Hypotheses, offsets_cents: Array, s: MatchSettings) -> Course:
    """From any string to any string."""
    start = ((1 - h.skip) / (1 - h.skip).sum(axis=1, keepdims=True))[:, None]
    go = np.repeat(start[:, :, None, :], h.skip.shape[1], axis=2)
    return Course(
        go=go,
        carry=go[:, 0],
        start=start,
        stop=np.ones(h.skip.shape),
        back=(),
        walk=_walks(offsets_cents, s)[h.scatter],
        begin=_begin(offsets_cents, s),
        tap=np.zeros(h.skip.shape),
        log_prior=h.log_prior,
    )


def told(course: Course, first: int | None, last: int | None, s: MatchSettings) -> Course:
    """The same, once the person said which string was the first or the last (places along the direction)."""
    start, stop = course.start, course.stop
    if first is not None:
        start = s.mistaken * start
        start[:, 0, first] += 1 - s.mistaken
    if last is not None:
        stop = s.mistaken * stop
        stop[:, last] += 1 - s.mistaken
    return replace(course, start=start, stop=stop)


def _moves(skipped: Array, tapped: float, whole: bool, s: MatchSettings) -> tuple[Array, Array, Array]:
    """Start (owed, S), go (owed, S, S) and stop (S,) from each string's chance not to be plucked."""
    count, owed = len(skipped), s.owed_n + 1
    passed = np.concatenate([[0.0], np.cumsum(np.log(skipped * (1 - tapped)))])
    # row 0 is before the first string
    from_to = np.exp(np.clip(passed[None, :-1] - passed[:, None], -700, 0)) * (1 - skipped)[None, :]
    table = np.zeros((owed, count + 1, count))
    table[0] = np.triu(from_to)
    for p in range(1, owed):
        instead = s.owe * (1 - skipped) / (skipped * (1 - tapped))
        # the string p before the new mark must lie after the old mark
        table[p, :, p:] = np.triu(from_to, p)[:, p:] * instead[None, :-p]
    anywhere = s.anywhere if whole else 1.0
    start = (1 - anywhere) * table[:, 0]
    start[0] += anywhere / count * (1 - skipped)
    stop = (1 - anywhere) * np.exp(passed[-1] - passed[1:]) + anywhere / count
    return start, table[:, 1:], stop


def _walks(offsets_cents: Array, s: MatchSettings) -> Array:
    """(scatters, O, O) of the common deviation from one mark to the next."""
    apart = offsets_cents[:, None] - offsets_cents[None, :]
    kernels = np.array([np.exp(-0.5 * (apart / walk) ** 2) for _, walk, _ in s.scatters])
    return np.asarray(kernels / kernels.sum(axis=2, keepdims=True))


def _begin(offsets: Array, s: MatchSettings) -> Array:
    """(O,) prior of the common deviation."""
    prior = s.tuned_share * np.exp(-0.5 * (offsets / s.tuned_cents) ** 2) / (s.tuned_cents * np.sqrt(2 * np.pi))
    for low, high, share in s.slack_ranges:
        prior = prior + share * ((offsets >= low) & (offsets <= high)) / (high - low)
    return np.asarray(prior / prior.sum())
