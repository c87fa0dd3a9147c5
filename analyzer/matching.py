"""Which pluck is which string: one joint reading of the whole recording, with probabilities.

Task. On a slack harp the pitch does not tell the string; order, layout and neighbours do. Given the evidence for each
event (`evidence`) and the strings' targets, find for every event the probability of each string and of "no string".

Model. A hidden Markov model over events (`course`, `trellis`, `way_back`). From one event to the next the person goes
on to the next string, perhaps skipping some; plucks the same one again; slips back to one of the few before and then
goes on from the mark; passes one over and plucks it soon after; taps for one that is not there; or something else
sounds. The common deviation is a random walk over the strings (they were let down together); each string has its own
scatter about it, with room for one far off, and for one an octave low (`agreement`). A repeat has the pitch that
string had before.
Direction, scatter and how readily strings are skipped are unknown too: every combination is a hypothesis with a prior,
and all are averaged by how well they explain the whole recording.

Conventions. Deviations in cents against the target. What a person says (`Known`) is taken as all but certain: it is
given up only where a whole recording speaks against it (a direction, a first or last string, a missing one), and a
correction of a single pluck never; `Matching.misfits` tells which corrections disagree with the rest.

Known limits. Two strings plucked at once are one event. Without a word on which strings are missing, a harp whose
strings scatter by half a tone leaves some names open to anyone; they come out with low probability.
"""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyzer.agreement import pitch_ratios, sameness, scattered
from analyzer.course import hypotheses, in_any_order, in_order, told
from analyzer.evidence import Evidence
from analyzer.settings import MatchSettings
from analyzer.trellis import Heard, Passage
from analyzer.tuning import Target
from analyzer.way_back import read_back

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
    tapped: Array
    """(N, S) probability that it is a tap in the place of a string; part of "no string"."""
    order: Order
    order_confidence: float
    deviation_cents: Array
    """(N,) the common deviation at each event, posterior mean."""
    log_evidence: float
    """Natural log of the probability of everything heard, against "every pitch alike" (for comparing readings)."""
    misfits: tuple[int, ...] = ()
    """Events whose correction fits neither their place in the row nor what was heard."""


def match(
    evidence: tuple[Evidence, ...], targets: tuple[Target, ...], known: Known, settings: MatchSettings
) -> Matching:
    """Read all events jointly. `targets` are the layout's, lowest first; returns probabilities for each event."""
    s, count = settings, len(targets)
    if not evidence:
        return _nothing_heard(count, known)
    offsets = np.arange(s.offset_lowest_cents, s.offset_highest_cents + 1, s.offset_step_cents)
    orders = _orders(known, s)
    ratios = pitch_ratios(evidence, s)
    sound = (scattered(ratios, s), sameness(evidence, s))
    passages = {o: _passage(o, prior, evidence, sound, targets, offsets, known, s) for o, prior in orders.items()}
    for t in range(len(evidence)):
        for passage in passages.values():
            passage.listen(t)
        best = max(float(p.log_evidence.max()) for p in passages.values())
        for order in list(passages):
            passages[order].drop(best - s.hopeless)
            if len(passages[order].rows) == 0:
                del passages[order]
    for passage in passages.values():
        passage.finish()
    return _averaged(passages, targets, offsets, known, s)


def _nothing_heard(count: int, known: Known) -> Matching:
    return Matching(
        probabilities=np.zeros((0, count + 1)),
        repeated=np.zeros(0),
        slipped=np.zeros(0),
        tapped=np.zeros((0, count)),
        order=known.order or "up",
        order_confidence=1.0 if known.order else 0.5,
        deviation_cents=np.zeros(0),
        log_evidence=0.0,
    )


def _orders(known: Known, s: MatchSettings) -> dict[Order, float]:
    """Directions and their priors."""
    if known.order == "any":
        return {"any": 1.0}
    if known.order is None:
        return {"up": 0.5, "down": 0.5}
    other: Order = "down" if known.order == "up" else "up"
    return {known.order: 1 - s.mistaken, other: s.mistaken}


def _passage(
    order: Order,
    prior: float,
    evidence: tuple[Evidence, ...],
    sound: tuple[Array, Array],
    targets: tuple[Target, ...],
    offsets: Array,
    known: Known,
    s: MatchSettings,
) -> Passage:
    """One direction's reading, ready to listen."""
    names = [t.string for t in targets]
    along = np.arange(len(names))[:: -1 if order == "down" else 1]
    target_cents = 1200 * np.log2(np.array([t.target_hz for t in targets]) / s.lowest_hz)
    at = np.rint((target_cents[along, None] + offsets[None, :]) / s.grid_cents).astype(int)
    allowed = np.ones((len(evidence), len(names)), dtype=bool)
    odds = np.array([e.string_log_odds for e in evidence]) - s.odds_even
    none = s.nothing * np.exp(-s.odds_worth * odds)
    tap = np.exp(s.odds_worth * np.array([e.tap_log_odds for e in evidence]))
    for t, string in known.named.items():
        allowed[t] = [names[k] == string for k in along]
        none[t], tap[t] = s.mistaken, 0.0
    for t in known.ignored:
        allowed[t], none[t], tap[t] = False, 1.0, 0.0
    missing = None if known.missing is None else np.array([names[k] in known.missing for k in along])
    h = hypotheses(missing, len(names), taps=bool((odds < 0).any()), s=s)
    heard = Heard(
        scattered=sound[0],
        at=np.clip(at, 0, sound[0].shape[2] - 1),
        scatter=h.scatter,
        same=sound[1],
        none=none,
        tap=tap,
        allowed=allowed,
    )
    course = in_any_order(h, offsets, s) if order == "any" else in_order(h, offsets, whole=known.whole, s=s)
    place = {names[k]: i for i, k in enumerate(along)}
    first, last = (None if n is None else place[n] for n in (known.first, known.last))
    return Passage(told(course, first, last, s), heard, s, prior)


def _averaged(
    passages: dict[Order, Passage], targets: tuple[Target, ...], offsets: Array, known: Known, s: MatchSettings
) -> Matching:
    """All hypotheses by how well they explain the recording."""
    top = max(float(p.log_evidence.max()) for p in passages.values())
    weights = {o: np.exp(p.log_evidence - top) for o, p in passages.items()}
    total = sum(float(w.sum()) for w in weights.values())
    events, count = len(next(iter(passages.values())).steps), len(targets)
    out, tapped = np.zeros((events, count + 1)), np.zeros((events, count))
    repeated, slipped, deviation, orders = np.zeros(events), np.zeros(events), np.zeros(events), {}
    for order, passage in passages.items():
        weight = weights[order] / total
        orders[order] = float(weight.sum())
        keep = weight > s.negligible
        if not keep.any():
            continue
        read = read_back(passage, passage.rows[keep], weight[keep], offsets)
        way = -1 if order == "down" else 1
        out[:, :count] += read.strings[:, ::way]
        tapped += read.tapped[:, ::way]
        out[:, count] += read.none
        repeated += read.again
        slipped += read.back
        deviation += read.deviation
    misfits = []
    for t, string in known.named.items():
        k = [x.string for x in targets].index(string)
        if out[t, count] > out[t, k]:
            misfits.append(t)
        out[t, k] += out[t, count]
        out[t, count] = 0.0
    likeliest = max(orders, key=lambda o: orders[o])
    return Matching(
        probabilities=out / np.maximum(out.sum(axis=1, keepdims=True), 1e-300),
        repeated=repeated,
        slipped=slipped,
        tapped=tapped,
        order=likeliest,
        order_confidence=orders[likeliest],
        deviation_cents=deviation,
        log_evidence=top + float(np.log(total)),
        misfits=tuple(sorted(misfits)),
    )


def likely_pitches(
    evidence: Evidence, target_hz: float, deviation_cents: float, settings: MatchSettings
) -> tuple[tuple[float, float], ...]:
    """(pitch in Hz, probability) of an event's candidates once its string is known, likeliest first.

    `deviation_cents` is the common deviation there. The same shares as in the joint reading say how far one string may
    be from it; an octave low is possible, an octave high is not.
    """
    s = settings
    if not evidence.pitches_hz:
        return ()
    off = 1200 * np.log2(np.array(evidence.pitches_hz) / target_hz) - deviation_cents
    prior = np.zeros(len(off))
    for scatter, _, share in s.scatters:
        for part, centre, wide in (
            (1 - s.far_share - s.octave_share - s.lost_share, 0.0, scatter),
            (s.far_share, 0.0, s.far_cents + s.far_scatters * scatter),
            (s.octave_share, -1200.0, s.octave_wide_cents),
        ):
            prior += share * part * np.exp(-0.5 * ((off - centre) / wide) ** 2) / wide
    lost = (off > s.lost_lowest_cents) & (off < s.lost_highest_cents)
    prior += s.lost_share * lost / (s.lost_highest_cents - s.lost_lowest_cents) + 1e-12
    weight = prior * np.exp(np.array(evidence.log_likelihoods))
    weight /= weight.sum()
    return tuple((evidence.pitches_hz[i], float(weight[i])) for i in np.argsort(-weight))
