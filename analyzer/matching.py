"""Which pluck is which string: one joint reading of the whole recording, with probabilities.

Task. On a slack harp the pitch does not tell the string; order, layout and neighbours do. Given the evidence for each
event (`evidence`) and the strings' targets, find for every event the probability of each string and of "no string".

Model. A hidden Markov model over events. The state is the mark (the furthest string reached in the direction of
plucking) and the common deviation there. From one event to the next the person goes on to the next string, perhaps
skipping some; plucks the same one again; slips back to one of the few before and then goes on from the mark; or
something else sounds. The common deviation is a random walk over the strings (they were let down together); each
string has its own scatter about it, with room for one far off, and for one an octave low. A repeat has the pitch that
string had before. Direction, scatter and how readily strings are skipped are unknown too: every combination is a
hypothesis with a prior, and all are averaged by how well they explain the whole recording.

Method. Forward-backward in floating point with a scale per event (Rabiner, Proc. IEEE 77 (1989) 257), all
hypotheses at once. Pitches and deviations are on a grid in cents; scatter is a convolution over pitch.

Conventions. Deviations in cents against the target. What a person says (`Known`) removes possibilities before the
reading; nothing heard can bring them back, but `contradictions` tells where the sound disagrees.

Known limits. Two strings plucked at once are one event. Without a word on which strings are missing, a harp whose
strings scatter by half a tone leaves some names open to anyone; they come out with low probability.
"""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyzer.evidence import Evidence
from analyzer.settings import MatchSettings
from analyzer.tuning import Target

Array = NDArray[np.float64]
Order = Literal["up", "down", "any"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the person knows; nothing of it is required."""

    order: Order | None = None
    first: str | None = None
    """The string that was plucked first."""
    last: str | None = None
    missing: frozenset[str] | None = None
    """Strings not on the harp; given at all (even empty), every other string is taken to be there."""
    whole: bool = True
    """False for a recording of a part of the harp: it may begin and end anywhere."""
    named: dict[int, str] = field(default_factory=dict)
    """Event index -> string, as the person corrected it."""
    ignored: frozenset[int] = frozenset()
    """Events that the person says are no pluck."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Matching:
    """The joint reading of one recording; N events, S strings in the order of the targets."""

    probabilities: Array
    """(N, S + 1): of each string, and in the last column of "no string"; rows sum to 1."""
    repeated: Array
    """(N,) probability that the event plucks again the string at the mark."""
    slipped: Array
    """(N,) probability that it goes back to a string before the mark."""
    order: Order
    order_confidence: float
    deviation_cents: Array
    """(N,) the common deviation at each event, posterior mean."""
    log_evidence: float
    """Natural log of the probability of everything heard, against "every pitch alike" (for comparing readings)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hypotheses:
    """H combinations of direction, scatter and readiness to skip."""

    order: tuple[Order, ...]
    scatter: NDArray[np.int64]
    """(H,) index into the scatters."""
    skip: Array
    """(H,) probability that a string is skipped."""
    log_prior: Array


def match(
    evidence: tuple[Evidence, ...], targets: tuple[Target, ...], known: Known, settings: MatchSettings
) -> Matching:
    """Read all events jointly. `targets` are the layout's, lowest first; returns probabilities for each event."""
    s = settings
    hypotheses = _hypotheses(known, s)
    target_cents = 1200 * np.log2(np.array([t.target_hz for t in targets]) / s.lowest_hz)
    ratios = _pitch_ratios(evidence, s)
    same = _sameness(evidence, s)
    scattered = _scattered(ratios, s)
    offsets = np.arange(s.offset_lowest_cents, s.offset_highest_cents + 1, s.offset_step_cents)
    at = np.rint((target_cents[:, None] + offsets[None, :]) / s.grid_cents).astype(int)
    at = np.clip(at, 0, ratios.shape[1] - 1)
    none = np.exp(-s.odds_worth * np.array([e.string_log_odds for e in evidence]))
    trellis = _Trellis(names=tuple(t.string for t in targets), known=known, s=s, hypotheses=hypotheses, offsets=offsets)
    emissions = [scattered[hypotheses.scatter][:, t][:, at] for t in range(len(evidence))]
    return trellis.read(emissions, same, none)


def _hypotheses(known: Known, s: MatchSettings) -> _Hypotheses:
    orders: tuple[Order, ...] = ("up", "down") if known.order is None else (known.order,)
    skips = ((s.skip_when_told, 1.0),) if known.missing is not None else s.skips
    rows = [
        (order, i, skip, np.log(weight * share / len(orders)))
        for order in orders
        for i, (_, _, share) in enumerate(s.scatters)
        for skip, weight in skips
    ]
    return _Hypotheses(
        order=tuple(r[0] for r in rows),
        scatter=np.array([r[1] for r in rows]),
        skip=np.array([r[2] for r in rows]),
        log_prior=np.array([r[3] for r in rows]),
    )


def _pitch_ratios(evidence: tuple[Evidence, ...], s: MatchSettings) -> Array:
    """(N, P) likelihood of each pitch of the grid against "every pitch alike"."""
    span = 1200 * np.log2(s.highest_hz / s.lowest_hz)
    grid = np.arange(0, span, s.grid_cents)
    out = np.full((len(evidence), len(grid)), s.stray)
    for row, e in zip(out, evidence, strict=True):
        if not e.pitches_hz:
            continue
        centre = 1200 * np.log2(np.array(e.pitches_hz) / s.lowest_hz)
        wide = np.hypot(np.array(e.spread_cents), s.grid_cents / 2)
        kernel = np.exp(-0.5 * ((grid[None, :] - centre[:, None]) / wide[:, None]) ** 2) / (
            wide[:, None] * np.sqrt(2 * np.pi)
        )
        row += (1 - s.stray) * span * _shares(e) @ kernel
    return out


def _sameness(evidence: tuple[Evidence, ...], s: MatchSettings) -> Array:
    """(N, N) likelihood that event t has the pitch of event u and is plucked anew, against "every pitch alike".

    Filled for the few events u before t that a repeat or a slip can reach.
    """
    span = 1200 * np.log2(s.highest_hz / s.lowest_hz)
    shares = [_shares(e) for e in evidence]
    cents = [1200 * np.log2(np.array(e.pitches_hz)) for e in evidence]
    out = np.full((len(evidence), len(evidence)), s.stray)
    for t, e in enumerate(evidence):
        for u in range(max(0, t - len(s.slips) - s.slip_reach), t):
            if not (e.pitches_hz and evidence[u].pitches_hz):
                continue
            wide = np.hypot.outer(np.array(e.spread_cents), np.hypot(np.array(evidence[u].spread_cents), s.same_cents))
            alike = np.exp(-0.5 * (np.subtract.outer(cents[t], cents[u]) / wide) ** 2) / (wide * np.sqrt(2 * np.pi))
            softer_db = np.subtract.outer(np.array(evidence[u].tones_db), np.array(e.tones_db)).T
            anew = 1 / (1 + np.exp(np.clip((softer_db - s.softer_db) / s.softer_scale_db, -50, 50)))
            out[t, u] += (1 - s.stray) * span * float(shares[t] @ (alike * anew) @ shares[u])
    return out


def _shares(e: Evidence) -> Array:
    weight = np.exp(np.array(e.log_likelihoods))
    return np.asarray(weight / max(float(weight.sum()), 1e-300))


def _gauss(deviation_cents: float, step_cents: float) -> Array:
    reach = int(np.ceil(4 * deviation_cents / step_cents))
    x = np.arange(-reach, reach + 1) * step_cents
    kernel = np.exp(-0.5 * (x / deviation_cents) ** 2)
    return np.asarray(kernel / kernel.sum())


def _scattered(ratios: Array, s: MatchSettings) -> Array:
    """(scatters, N, P) likelihood given where a string is expected: its own scatter, strays and an octave low."""
    size = ratios.shape[1]
    x = (np.arange(2 * size - 1) - (size - 1)) * s.grid_cents
    length = 1 << int(np.ceil(np.log2(3 * size)))
    spectrum = np.fft.rfft(ratios, length, axis=1)
    out = []
    for scatter, _, _ in s.scatters:
        kernel = np.zeros(len(x))
        for share, centre, wide in (
            (1 - s.far_share - s.octave_share - s.lost_share, 0.0, max(scatter, s.grid_cents / 2)),
            (s.far_share, 0.0, s.far_cents + s.far_scatters * scatter),
            (s.octave_share, -1200.0, s.octave_wide_cents),
        ):
            bell = np.exp(-0.5 * ((x - centre) / wide) ** 2)
            kernel += share * bell / bell.sum()
        lost = ((x > s.lost_lowest_cents) & (x < s.lost_highest_cents)).astype(float)
        kernel += s.lost_share * lost / lost.sum()
        # what is expected at p is heard at p + x: correlation, hence the reversed kernel
        full = np.fft.irfft(spectrum * np.fft.rfft(kernel[::-1], length), length, axis=1)
        out.append(np.maximum(full[:, size - 1 : 2 * size - 1], 1e-12))
    return np.array(out)


class _Trellis:
    """Forward-backward over events; arrays are (H, S, O): hypotheses, marks in layout order, deviations."""

    def __init__(
        self,
        *,
        names: tuple[str, ...],
        known: Known,
        s: MatchSettings,
        hypotheses: _Hypotheses,
        offsets: Array,
    ) -> None:
        self.s, self.known, self.names, self.h, self.offsets = s, known, names, hypotheses, offsets
        count = len(names)
        missing = np.array([n in (known.missing or ()) for n in names])
        skip = np.where(missing[None, :], 1 - s.skip_when_told, hypotheses.skip[:, None])
        self.go = np.empty((len(hypotheses.order), count, count))
        self.start = np.empty((len(hypotheses.order), count))
        self.stop = np.empty((len(hypotheses.order), count))
        self.back = np.zeros(len(hypotheses.order), dtype=int)
        for k, order in enumerate(hypotheses.order):
            self._moves(k, order, skip[k])
        walks = [np.asarray(_gauss(walk, s.offset_step_cents)) for _, walk, _ in s.scatters]
        self.walk = np.array([self._walk_matrix(w) for w in walks])[hypotheses.scatter]

    def _moves(self, k: int, order: Order, skip: Array) -> None:
        s, count, known = self.s, len(self.names), self.known
        if order == "any":
            self.go[k] = np.tile((1 - skip) / (1 - skip).sum(), (count, 1))
            self.start[k] = (1 - skip) / (1 - skip).sum()
            self.stop[k] = 1.0
            return
        self.back[k] = 1 if order == "up" else -1
        along = np.arange(count) if order == "up" else np.arange(count)[::-1]
        passed = np.concatenate([[0.0], np.cumsum(np.log(skip[along]))])
        ahead = np.exp(np.clip(passed[None, :-1] - passed[1:, None], -700, 0)) * (1 - skip[along])[None, :]
        ahead = np.triu(ahead, 1)
        self.go[k][np.ix_(along, along)] = ahead
        anywhere = s.anywhere if known.whole else 1.0
        begin = (1 - anywhere) * np.exp(passed[:-1]) * (1 - skip[along]) + anywhere / count * (1 - skip[along])
        end = (1 - anywhere) * np.exp(passed[-1] - passed[1:]) + anywhere / count
        self.start[k, along], self.stop[k, along] = begin, end
        if known.first is not None:
            self.start[k] = [float(n == known.first) for n in self.names]
        if known.last is not None:
            self.stop[k] = [float(n == known.last) for n in self.names]

    def _walk_matrix(self, kernel: Array) -> Array:
        size, reach = len(self.offsets), len(kernel) // 2
        matrix = np.zeros((size, size))
        for shift, share in zip(range(-reach, reach + 1), kernel, strict=True):
            matrix += share * np.eye(size, k=shift)
        return matrix / matrix.sum(axis=1, keepdims=True)

    def _alike(self, same: Array, t: int, heard: list[Array]) -> Array:
        """(H, S) likelihood that event t is a string's last pluck over again, by the pitch that pluck had."""
        rest = np.ones((len(self.h.order), len(self.names)))
        total = np.zeros_like(rest)
        for u in range(t - 1, max(-1, t - 1 - len(self.s.slips) - self.s.slip_reach), -1):
            total += rest * heard[u] * same[t, u]
            rest = rest * (1 - heard[u])
        return total + rest * self.s.stray

    def _before(self, array: Array, k: int) -> Array:
        """`array` (H, S, …) read k strings before each mark, against the direction of plucking; zero beyond."""
        out = np.zeros_like(array)
        up, down = self.back == 1, self.back == -1
        out[up, k:] = array[up, :-k]
        out[down, :-k] = array[down, k:]
        return out

    def _after(self, array: Array, k: int) -> Array:
        """Inverse of `_before`: what was counted at each mark, k strings before it."""
        out = np.zeros_like(array)
        up, down = self.back == 1, self.back == -1
        out[up, :-k] = array[up, k:]
        out[down, k:] = array[down, :-k]
        return out

    def _stay(
        self, emission: Array, same: Array, none: Array, t: int, heard: list[Array]
    ) -> tuple[Array, Array, float]:
        """Weights of staying at the mark: (H, S, 1) repeat, (slips, H, S, O) slip, and no string."""
        s = self.s
        alike = self._alike(same, t, heard)[:, :, None]
        if t in self.known.ignored:
            return 0 * alike, np.zeros((len(s.slips), *emission.shape)), 1.0
        nothing = float(s.nothing * none[t])
        here = self._allowed(t)[None, :, None]
        if t in self.known.named:
            nothing = 0.0
        of_string = (s.slip_new * emission + (1 - s.slip_new) * alike) * here
        slip = np.array([s.slip * w * self._before(of_string, k) for k, w in enumerate(s.slips, start=1)])
        return s.repeat * alike * here, slip, nothing

    def _allowed(self, t: int) -> Array:
        """(S,) 1 where going on to that string is allowed at this event."""
        if t in self.known.ignored:
            return np.zeros(len(self.names))
        if t in self.known.named:
            return np.array([float(n == self.known.named[t]) for n in self.names])
        return np.ones(len(self.names))

    def _begin(self) -> Array:
        s = self.s
        prior = (
            s.tuned_share * np.exp(-0.5 * (self.offsets / s.tuned_cents) ** 2) / (s.tuned_cents * np.sqrt(2 * np.pi))
        )
        for low, high, share in s.slack_ranges:
            prior = prior + share * ((self.offsets >= low) & (self.offsets <= high)) / (high - low)
        prior = prior / prior.sum()
        return self.start[:, :, None] * np.asarray(prior)[None, None, :]

    def read(self, emissions: list[Array], same: Array, none: Array) -> Matching:
        s, events = self.s, len(emissions)
        onward = 1 - s.repeat - s.slip - s.nothing
        stays: list[tuple[Array, Array, float]] = []
        heard: list[Array] = []
        allowed = [self._allowed(t) for t in range(events)]
        # before the first string only "no string" can happen: `waiting` is the weight of that
        waiting = np.ones(len(self.h.order))
        alphas: list[Array] = []
        fresh: list[Array] = []
        scales = np.zeros((events, len(self.h.order)))
        alpha = np.zeros_like(emissions[0])
        for t, emission in enumerate(emissions):
            repeat, slip, nothing = self._stay(emission, same, none, t, heard)
            stays.append((repeat, slip, nothing))
            moved = onward * (self.go.transpose(0, 2, 1) @ (alpha @ self.walk)) + waiting[:, None, None] * self._begin()
            new = moved * emission * allowed[t][None, :, None]
            alpha_next = new + alpha * (repeat + slip.sum(axis=0) + nothing)
            waiting = waiting * nothing
            scale = alpha_next.sum(axis=(1, 2)) + waiting + 1e-300
            string = (new + alpha * repeat).sum(axis=2)
            for k in range(1, len(s.slips) + 1):
                string += self._after((alpha * slip[k - 1]).sum(axis=2), k)
            heard.append(string / scale[:, None])
            fresh.append(new / scale[:, None, None])
            alpha, waiting = alpha_next / scale[:, None, None], waiting / scale
            alphas.append(alpha)
            scales[t] = np.log(scale)
        ending = (alpha * self.stop[:, :, None]).sum(axis=(1, 2)) + 1e-300
        log_evidence = scales.sum(axis=0) + np.log(ending) + self.h.log_prior
        top = log_evidence.max()
        weight = np.exp(log_evidence - top)
        total = float(top + np.log(weight.sum()))
        weight /= weight.sum()
        return self._posterior(emissions, stays, allowed, alphas, fresh, scales, ending, weight, onward, total)

    def _posterior(
        self,
        emissions: list[Array],
        stays: list[tuple[Array, Array, float]],
        allowed: list[Array],
        alphas: list[Array],
        fresh: list[Array],
        scales: Array,
        ending: Array,
        weight: Array,
        onward: float,
        log_evidence: float,
    ) -> Matching:
        events, count = len(emissions), len(self.names)
        out = np.zeros((events, count + 1))
        repeated, slipped, deviation = np.zeros(events), np.zeros(events), np.zeros(events)
        beta = self.stop[:, :, None] / ending[:, None, None] * np.ones_like(emissions[0])
        for t in range(events - 1, -1, -1):
            repeat, slip, nothing = stays[t]
            past = alphas[t - 1] if t else np.zeros_like(beta)
            scaled = beta * np.exp(-scales[t])[:, None, None] * weight[:, None, None]
            string = (fresh[t] * beta * weight[:, None, None]).sum(axis=(0, 2))
            again = (past * repeat * scaled).sum(axis=(0, 2))
            out[t, :count] = string + again
            for k in range(1, len(self.s.slips) + 1):
                gone = (past * slip[k - 1] * scaled).sum(axis=2)
                out[t, :count] += self._after(gone, k).sum(axis=0)
                slipped[t] += gone.sum()
            out[t, count] = max(0.0, 1 - out[t, :count].sum())
            repeated[t] = again.sum()
            here = (alphas[t] * beta * weight[:, None, None]).sum(axis=(0, 1))
            deviation[t] = float(here @ self.offsets / max(here.sum(), 1e-300))
            ahead = self.go @ (beta * emissions[t] * allowed[t][None, :, None]) @ self.walk.transpose(0, 2, 1)
            beta = (onward * ahead + beta * (repeat + slip.sum(axis=0) + nothing)) * np.exp(-scales[t])[:, None, None]
        orders = {o: float(weight[[h == o for h in self.h.order]].sum()) for o in set(self.h.order)}
        order = max(orders, key=lambda o: orders[o])
        return Matching(
            probabilities=out / np.maximum(out.sum(axis=1, keepdims=True), 1e-300),
            repeated=repeated,
            slipped=slipped,
            order=order,
            order_confidence=orders[order],
            deviation_cents=deviation,
            log_evidence=log_evidence,
        )
