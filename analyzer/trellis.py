"""The way through the plucks of one recording, for one direction of plucking; `way_back` reads them from its end.

Task. Given how well each event agrees with each string at each common deviation, find how probable each state is after
each event, given all that was heard so far, and how well every hypothesis explains the recording.

Model. Strings are counted along the direction of plucking. The state is the *mark* (the furthest string reached), what
is *owed* (0, or how many strings before the mark one was passed over that will still be plucked: a slip of the hand
that people mend within a few plucks), and the common deviation, which walks at random from string to string. An event
goes on from the mark, past strings that are skipped for good or, one at a time, owed; plucks the mark again; falls back
to one of the strings before it; pays what is owed; or is no string.

Method. All hypotheses (scatter, readiness to skip) side by side, floating point with a scale per event (Rabiner, Proc.
IEEE 77 (1989) 257). Marks and hypotheses of negligible probability are left out as the reading goes on. A string
plucked again has the pitch it had: when each string near the mark was last plucked is carried along as a probability
for every mark (`ages`), which is exact but for paths that meet at one mark.

Conventions. Arrays are (H, owed, marks, deviations); marks are those from `low` up, of the event's window.
"""

from dataclasses import dataclass, fields, replace
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from analyzer.course import Course
from analyzer.settings import MatchSettings

Array = NDArray[np.floating]
Index = NDArray[np.int64]
TINY = float(np.finfo(np.float32).tiny)
Tables = TypeVar("Tables", Course, "Heard")


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """How well events agree with strings; every value is against "every pitch alike". N events, C scatters."""

    scattered: Array
    """(C, N, P) by the expected pitch."""
    at: Index
    """(S, O) place on the pitch grid of each string at each common deviation, along the direction of plucking."""
    scatter: Index
    """(H,) which of the scatters a hypothesis has."""
    same: Array
    """(N, N) that event t has the pitch that event u has, plucked anew."""
    none: Array
    """(N,) that no string sounds."""
    tap: Array
    """(N,) that it is a tap in the place of a string."""
    allowed: NDArray[np.bool_]
    """(N, S) what the person's corrections leave."""

    def emission(self, t: int, rows: Index, low: int, high: int, deviations: slice) -> Array:
        """(H, marks, O) of event t, for the hypotheses in `rows`; zero where not allowed."""
        own = self.scattered[:, t][:, self.at[low:high, deviations]] * self.allowed[t, low:high, None]
        return np.asarray(own[self.scatter[rows]])


class Stays(NamedTuple):
    """Weights of what leaves the mark where it is."""

    again: Array
    """(H, marks)"""
    back_alike: Array
    """(H, back, marks): to a string that was plucked before, by its pitch then."""
    back_new: Array
    """(back,): to one that was passed over, times its emission."""
    none: float
    every: Array
    """(H, marks, O): all of them together."""


@dataclass(slots=True, kw_only=True)
class Step:
    """What one event leaves behind for the way back."""

    rows: Index
    low: int
    deviations: slice
    emission: Array
    """(H, marks and `reach` strings before them, O)"""
    arrival: Array
    """(H, marks, O) emission of the mark's string, or of a tap in its place."""
    stays: Stays
    past: Array
    """(H, owed, marks, O) before the event, on this event's marks."""
    new: Array
    """(H, owed, marks, O) arrivals, scaled."""
    alpha: Array
    log_scale: Array
    """(H,)"""


def _single(tables: Tables) -> Tables:
    """The same in single precision: half the memory to go through, and far finer than `MatchSettings.negligible`."""
    named = ((f.name, getattr(tables, f.name)) for f in fields(tables))
    return replace(tables, **{name: v.astype(np.float32) for name, v in named if _is_double(v)})


def _is_double(value: object) -> bool:
    return isinstance(value, np.ndarray) and value.dtype == np.float64


class Passage:
    """One direction's reading, an event at a time, then the way back."""

    def __init__(self, course: Course, heard: Heard, settings: MatchSettings, prior: float) -> None:
        self.course, self.heard, self.s = _single(course), _single(heard), settings
        hypotheses, self.owed, self.count = course.start.shape
        self.reach = max(len(course.back), self.owed - 1)
        self.onward = 1 - settings.repeat - settings.slip - settings.nothing
        self.rows: Index = np.arange(hypotheses)
        self.log_evidence = course.log_prior + np.log(prior)
        self.steps: list[Step] = []
        self.waiting = np.ones(hypotheses, dtype=np.float32)
        self.low = 0
        self.deviations = slice(0, len(course.begin))
        self.alpha = np.zeros((hypotheses, self.owed, 0, len(course.begin)), dtype=np.float32)
        self.ending = np.ones(hypotheses)
        self.ages = np.zeros((hypotheses, self.count, self.reach + 1, settings.ages_n), dtype=np.float32)

    def listen(self, t: int) -> None:
        """Take in event t."""
        s, c = self.s, self.course
        low, high, deviations = self._window()
        emission = self._emission(t, low, high, deviations)
        own = emission[:, self.reach :] + c.tap[self.rows, low:high, None] * self.heard.tap[t]
        past = np.zeros((len(self.rows), self.owed, high - low, own.shape[2]), dtype=np.float32)
        first, shift = self.low - low, self.deviations.start - deviations.start
        past[:, :, first : first + self.alpha.shape[2], shift : shift + self.alpha.shape[3]] = self.alpha
        walked = past @ c.walk[self.rows, None, deviations, deviations]
        arrived = self._onward(walked, low, high)
        if self.waiting.max() > s.negligible:
            begin = c.start[self.rows, :, low:high, None] * c.begin[deviations]
            arrived += self.waiting[:, None, None, None] * begin
        new = arrived * own[:, None]
        stays = self._stays(t, low, high, emission)
        alpha = new + past * stays.every[:, None]
        paid = self._paid(past, emission)
        alpha[:, 0] += sum(paid)
        waiting = self.waiting * stays.none
        scale = alpha.sum(axis=(1, 2, 3)) + waiting + TINY
        self._age(new, past, walked, own, stays, emission, paid, low, high)
        self.log_evidence = self.log_evidence + np.log(scale)
        self.alpha, self.waiting = alpha / scale[:, None, None, None], waiting / scale
        self.low, self.deviations = low, deviations
        self.steps.append(
            Step(
                rows=self.rows,
                low=low,
                deviations=deviations,
                emission=emission,
                arrival=own,
                stays=stays,
                past=past,
                new=new / scale[:, None, None, None],
                alpha=self.alpha,
                log_scale=np.log(scale),
            )
        )
        self._trim(s.negligible)

    def drop(self, below: float) -> None:
        """Leave out hypotheses whose evidence is less than this (natural log)."""
        keep = self.log_evidence > below
        self.rows, self.log_evidence, self.waiting = self.rows[keep], self.log_evidence[keep], self.waiting[keep]
        self.alpha, self.ages = self.alpha[keep], self.ages[keep]

    def finish(self) -> None:
        """Count in where the recording ends; nothing may be owed then. Or there was no string in it at all."""
        high = self.low + self.alpha.shape[2]
        stop = self.course.stop[self.rows, self.low : high, None]
        self.ending = (self.alpha[:, 0] * stop).sum(axis=(1, 2)) + self.waiting * self.s.no_harp + TINY
        self.log_evidence = self.log_evidence + np.log(self.ending)

    def _window(self) -> tuple[int, int, slice]:
        """Marks and common deviations that can be reached from those now possible, or by a first pluck."""
        c, high = self.course, self.low + self.alpha.shape[2]
        reachable = np.zeros(self.count, dtype=bool)
        reachable[self.low : high] = True
        if high > self.low:
            mass = self.alpha.sum(axis=(1, 3))[:, None]
            reachable |= (mass @ c.go[self.rows, 0, self.low : high]).max(axis=(0, 1)) > self.s.negligible
        if self.waiting.max() > self.s.negligible:
            reachable |= c.start[self.rows, 0].max(axis=0) > 0
            deviations = slice(0, len(c.begin))
        else:
            mass = self.alpha.sum(axis=(1, 2))[:, None]
            near = (mass @ c.walk[self.rows, self.deviations]).max(axis=(0, 1)) > self.s.negligible
            near[self.deviations] = True
            moved = np.flatnonzero(near)
            deviations = slice(int(moved[0]), int(moved[-1]) + 1)
        at = np.flatnonzero(reachable)
        return int(at[0]), int(at[-1]) + 1, deviations

    def _emission(self, t: int, low: int, high: int, deviations: slice) -> Array:
        """(H, reach + marks, O): of the window and the strings just before it, zero before the first."""
        first = max(0, low - self.reach)
        found = self.heard.emission(t, self.rows, first, high, deviations)
        return np.pad(found, ((0, 0), (self.reach - (low - first), 0), (0, 0)))

    def _onward(self, walked: Array, low: int, high: int) -> Array:
        """Arrivals at each mark before the sound is heard."""
        s, c = self.s, self.course
        go = c.go[self.rows, :, low:high, low:high]
        arrived = self.onward * (go.transpose(0, 1, 3, 2) @ walked[:, :1])
        for p in range(1, self.owed):
            for k in range(1, self.owed - p):
                share = self.onward * (1 - s.pay) * self._carry(k, low, high)
                arrived[:, p + k, k:] += share[:, :, None] * walked[:, p, :-k]
        return np.asarray(arrived)

    def _carry(self, k: int, low: int, high: int) -> Array:
        """(H, marks − k) from each mark to the k-th after it."""
        return np.asarray(np.diagonal(self.course.carry[self.rows, low:high, low:high], offset=k, axis1=1, axis2=2))

    def _paid(self, past: Array, emission: Array) -> list[Array]:
        """(H, marks, O) of plucking what is owed one, two, … strings before the mark."""
        size = past.shape[2]
        pay = self.onward * self.s.pay
        return [pay * past[:, p] * emission[:, self.reach - p : self.reach - p + size] for p in range(1, self.owed)]

    def _stays(self, t: int, low: int, high: int, emission: Array) -> Stays:
        s, back = self.s, np.array(self.course.back, dtype=np.float32)
        lags = min(t, s.ages_n)
        same = np.zeros(s.ages_n, dtype=np.float32)
        same[:lags] = self.heard.same[t, t - lags : t][::-1]
        ages = self.ages[:, low:high]
        alike = ages @ same + (1 - ages.sum(axis=3)) * s.stray
        size, allowed = high - low, np.pad(self.heard.allowed[t], (self.reach, 0))
        before = [allowed[low + self.reach - k : high + self.reach - k] for k in range(len(back) + 1)]
        again = s.repeat * alike[:, :, 0] * before[0]
        back_new = s.slip * s.slip_new * back
        back_alike = np.zeros((len(self.rows), len(back), size), dtype=np.float32)
        none = float(self.heard.none[t])
        every = np.broadcast_to((again + none)[:, :, None], (*again.shape, emission.shape[2])).copy()
        for k in range(1, len(back) + 1):
            back_alike[:, k - 1] = s.slip * (1 - s.slip_new) * back[k - 1] * alike[:, :, k] * before[k]
            every += back_alike[:, k - 1, :, None]
            every += back_new[k - 1] * emission[:, self.reach - k : self.reach - k + size]
        return Stays(again=again, back_alike=back_alike, back_new=back_new, none=none, every=every)

    def _age(
        self,
        new: Array,
        past: Array,
        walked: Array,
        own: Array,
        stays: Stays,
        emission: Array,
        paid: list[Array],
        low: int,
        high: int,
    ) -> None:
        """Bring up to date when the mark and each of the `reach` strings before it were last plucked."""
        c, size = self.course, high - low
        arrived = new.sum(axis=(1, 3))
        here = past.sum(axis=1)
        mass = here.sum(axis=2)
        older = np.zeros_like(self.ages)
        older[..., 1:] = self.ages[..., :-1]
        older = older[:, low:high]
        again = mass * stays.again
        back = [again]
        for k in range(1, self.reach + 1):
            gone = np.zeros_like(mass)
            if k <= len(c.back):
                heard = emission[:, self.reach - k : self.reach - k + size]
                gone += mass * stays.back_alike[:, k - 1] + stays.back_new[k - 1] * (here * heard).sum(axis=2)
            if k < self.owed:
                gone += paid[k - 1].sum(axis=2)
            back.append(gone)
        stayed = mass * stays.none + sum(back)
        total = stayed + arrived + TINY
        ages = older * (stayed[:, :, None] - np.stack(back, axis=2))[..., None]
        ages[..., 0] += np.stack(back, axis=2)
        ages[:, :, 0, 0] += arrived
        go = c.go[self.rows, :, low:high, low:high].sum(axis=1)
        for d in range(1, min(self.reach, size - 1) + 1):
            step = np.diagonal(go, offset=d, axis1=1, axis2=2)
            came = self.onward * step * (walked[:, 0, :-d] * own[:, d:]).sum(axis=2)
            ages[:, d:, d:] += came[:, :, None, None] * older[:, :-d, : self.reach + 1 - d]
        self.ages = np.zeros_like(self.ages)
        self.ages[:, low:high] = ages / total[:, :, None, None]

    def _trim(self, negligible: float) -> None:
        """Narrow marks and deviations to those that still count for some hypothesis."""
        if len(self.rows) == 0 or self.waiting.max() > negligible:
            return
        whole = self.alpha.sum(axis=1)
        marks = np.flatnonzero(whole.sum(axis=2).max(axis=0) > negligible)
        near = np.flatnonzero(whole.sum(axis=1).max(axis=0) > negligible)
        if len(marks) and len(near):
            self.alpha = self.alpha[:, :, marks[0] : marks[-1] + 1, near[0] : near[-1] + 1]
            self.low += int(marks[0])
            start = self.deviations.start
            self.deviations = slice(start + int(near[0]), start + int(near[-1]) + 1)
