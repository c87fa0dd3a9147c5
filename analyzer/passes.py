"""Passes: which string is turned how far, in which order, so that the whole harp comes up together.

Task: from where every string stands, its limits and those of the harp -> turns, pass by pass, until every
string is at its target.

Conventions: levels in cents against the string's target, so the goal is 0 for all; tension of a string as a
share of its tension at pitch, 2^(cents/600); its weight is its share of the harp's full load.

Method: like water rising. In each pass there is one level; every string below it is brought to it, as far as
its own limits allow, and the level is the highest (found by bisection) at which the load added in the pass
stays within its limit. Strings above it wait. A string never gets further ahead of a neighbour than
`apart_cents`, or than it was. Sharp strings come down first. Then the longest string first: what the long
ones pull down is still to be tuned. New strings come last in a pass, when their neighbours stand where the new
one is to be brought to, but they come before any raising in what load a pass may add.

As strings come up, the soundboard gives way and those already tuned fall. `response` is by how many cents, for
the harp's full load added after them; none is published, so it is 0 until measured (`response`). With one, the
turns of all but the last passes aim higher by what will be lost, never above pitch, and the plan goes on until
what falls is within tolerance.

Known limits: one response for all strings; settling (stretch) is not foreseen.
"""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from analyzer.errors import UnusableInput
from analyzer.load import share_of_full
from analyzer.settings import PlanSettings

Kind = Literal["lower", "raise", "install"]

_GRAIN_CENTS = 0.1
_BISECTIONS = 30
_DEFAULTS = PlanSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where one string stands and how far it may be turned in one pass."""

    string: str
    cents: float | None
    """None: it is not there, or nobody knows."""
    weight: float
    """Its full tension over the harp's."""
    turn_cents: float
    turn_share: float
    """Most tension added in one pass, share of its full tension."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """One turn of one pin."""

    place: int
    """Index of its string."""
    kind: Kind
    from_cents: float | None
    """None for a new string."""
    to_cents: float


def highest_cents(standing: Standing, from_cents: float) -> float:
    """How far up one turn may bring the string from there; never above its target."""
    by_share = 600 * math.log2(share_of_full(from_cents) + standing.turn_share)
    return min(from_cents + standing.turn_cents, by_share, 0.0)


def added_load(turn: Turn, strings: Sequence[Standing]) -> float:
    """Load that a turn adds to the harp (below 0 where it lets a string down), share of the full load."""
    before = 0.0 if turn.from_cents is None else share_of_full(turn.from_cents)
    return strings[turn.place].weight * (share_of_full(turn.to_cents) - before)


def harp_load_added(
    turns: Sequence[Turn], levels: Sequence[float | None], strings: Sequence[Standing], response_cents: float
) -> float:
    """How much more the harp carries after these turns, what other strings lost counted, share of the full load."""
    after = levels_after(turns, levels, strings, response_cents)
    return sum(
        s.weight * (share_of_full(b) - (0.0 if a is None else share_of_full(a)))
        for s, a, b in zip(strings, levels, after, strict=True)
        if b is not None
    )


def schedule(
    strings: Sequence[Standing],
    *,
    total_share: float,
    response_cents: float = 0.0,
    settings: PlanSettings = _DEFAULTS,
) -> tuple[tuple[Turn, ...], ...]:
    """The turns of each pass, in working order; none for a harp in tune.

    `total_share`: most load a pass may add. `response_cents`: cents that a string falls as the full load is added
    after its turn. Raises UnusableInput where no reasonable number of passes gets there.
    """
    levels = [s.cents for s in strings]
    passes: list[tuple[Turn, ...]] = []
    while _unfinished(levels, settings):
        turns = _one_pass(levels, strings, total_share, response_cents, settings)
        if not turns or len(passes) == settings.passes_limit_n:
            raise UnusableInput(
                f"no plan of up to {settings.passes_limit_n} passes brings this harp to pitch within the limits;"
                " ask a qualified harp technician."
            )
        passes.append(turns)
        levels = levels_after(turns, levels, strings, response_cents)
    return tuple(passes)


def levels_after(
    turns: Sequence[Turn], levels: Sequence[float | None], strings: Sequence[Standing], response_cents: float
) -> list[float | None]:
    """Where every string stands after these turns, each of which lets all other strings fall."""
    now = list(levels)
    for turn in turns:
        fall = response_cents * added_load(turn, strings)
        now = [None if c is None else c - fall for c in now]
        now[turn.place] = turn.to_cents
    return now


def passes_bound(strings: Sequence[Standing], *, total_share: float, settings: PlanSettings = _DEFAULTS) -> int:
    """Fewest passes that the limits allow, whatever the order and however stiff the harp."""
    end = share_of_full(-settings.in_tune_cents)
    now = [0.0 if s.cents is None else share_of_full(s.cents) for s in strings]
    load = sum(s.weight * max(end - share, 0.0) for s, share in zip(strings, now, strict=True))
    own = max((_turns_needed(s, settings) for s in strings), default=0)
    return max(own, math.ceil(load / total_share))


def _turns_needed(standing: Standing, settings: PlanSettings) -> int:
    """How many turns of its own limits bring one string to its target."""
    if standing.cents is None:
        return 1
    n, level = 0, min(standing.cents, 0.0)
    while level < -settings.in_tune_cents:
        n, level = n + 1, highest_cents(standing, level)
    return max(n, int(standing.cents > settings.in_tune_cents))


def _unfinished(levels: Sequence[float | None], settings: PlanSettings) -> bool:
    return any(c is None or abs(c) > settings.in_tune_cents for c in levels)


def _one_pass(
    levels: Sequence[float | None],
    strings: Sequence[Standing],
    total_share: float,
    response_cents: float,
    settings: PlanSettings,
) -> tuple[Turn, ...]:
    """The turns of one pass: sharp strings down, then as much up as the load allows."""
    down = _lowering(levels, strings, response_cents, settings)
    base = levels_after(down, levels, strings, response_cents)
    near_cents = settings.touch_cents if response_cents else settings.in_tune_cents
    new = _new_in_this_pass(base, strings, total_share, settings)

    def up(level: float) -> list[Turn]:
        goals = _goals(base, level, strings, near_cents, settings)
        installs = [
            Turn(place=i, kind="install", from_cents=None, to_cents=_down_to_grain(to))
            for i in new
            for to in [min(_beside(i, goals, settings), _alone_cents(strings[i], total_share))]
        ]
        return _as_found(_aims(goals, base, strings, installs, response_cents), base, strings, response_cents)

    def fits(turns: Sequence[Turn]) -> bool:
        return harp_load_added(turns, base, strings, response_cents) <= total_share

    best = up(0.0)
    if fits(best) and not response_cents:
        return (*down, *best)
    if fits(best):
        return (*down, *best, *_again(best, base, strings, total_share, response_cents, settings))
    low, high = min((c for c in base if c is not None), default=0.0), 0.0
    best = up(low)
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2
        turns = up(middle)
        if fits(turns):
            low, best = middle, turns
        else:
            high = middle
    return (*down, *best)


def _again(
    turns: Sequence[Turn],
    levels: Sequence[float | None],
    strings: Sequence[Standing],
    total_share: float,
    response_cents: float,
    settings: PlanSettings,
) -> list[Turn]:
    """Further rounds of the same pass for the strings that were at their targets and fell again.

    Only as far as the pass's limit of load allows; what remains is left to the next pass.
    """
    last = {t.place: t.to_cents for t in turns}
    arrived = [last.get(i, c) for i, c in enumerate(levels)]
    there = [c is not None and c >= -settings.in_tune_cents for c in arrived]
    now = levels_after(turns, levels, strings, response_cents)
    more: list[Turn] = []
    for _ in range(settings.rounds_n - 1):
        goals = [
            0.0 if was and c is not None and c < -settings.touch_cents else c for was, c in zip(there, now, strict=True)
        ]
        round_ = _as_found(_aims(goals, now, strings, (), response_cents), now, strings, response_cents)
        if harp_load_added([*turns, *more, *round_], levels, strings, response_cents) > total_share:
            break
        more += round_
        now = levels_after(round_, now, strings, response_cents)
    return more


def _lowering(
    levels: Sequence[float | None], strings: Sequence[Standing], response_cents: float, settings: PlanSettings
) -> list[Turn]:
    """Turns that let the sharp strings down to their targets, the sharpest first."""
    sharp = sorted((-c, i) for i, c in enumerate(levels) if c is not None and c > settings.in_tune_cents)
    now = list(levels)
    turns: list[Turn] = []
    for _, i in sharp:
        while (level := now[i]) is not None and level > 0.0:
            to = max(level - settings.lowering_cents, 0.0)
            turns.append(Turn(place=i, kind="lower", from_cents=level, to_cents=to))
            now = levels_after(turns[-1:], now, strings, response_cents)
    return turns


def _goals(
    base: Sequence[float | None],
    level: float,
    strings: Sequence[Standing],
    near_cents: float,
    settings: PlanSettings,
) -> list[float | None]:
    """Where each string is to stand after the pass if the water rises to `level`; one this near stays."""
    known = [i for i, c in enumerate(base) if c is not None]
    start = {i: c for i, c in enumerate(base) if c is not None}
    ceiling = {i: c if c >= -near_cents else max(c, min(level, highest_cents(strings[i], c))) for i, c in start.items()}
    gaps = [(i, j, max(settings.apart_cents, abs(start[i] - start[j]))) for i, j in pairwise(known)]
    while True:
        goal = dict(ceiling)
        for i, j, gap in gaps:
            goal[j] = min(goal[j], goal[i] + gap)
        for i, j, gap in reversed(gaps):
            goal[i] = min(goal[i], goal[j] + gap)
        small = [i for i in known if 0.0 < goal[i] - start[i] < settings.least_turn_cents and goal[i] < 0.0]
        if not small:
            return [goal.get(i) for i in range(len(base))]
        ceiling.update({i: start[i] for i in small})


def _aims(
    goals: Sequence[float | None],
    base: Sequence[float | None],
    strings: Sequence[Standing],
    installs: Sequence[Turn],
    response_cents: float,
) -> list[Turn]:
    """The turns that leave the strings at their goals once later turns have pulled them down, as far as limits allow.

    Worked out backwards: the last turn loses nothing.
    """
    later = sum(added_load(t, strings) for t in installs)
    turns: list[Turn] = []
    for i in reversed(range(len(goals))):
        goal, start = goals[i], base[i]
        if goal is None or start is None or goal <= start:
            continue
        aim = min(goal + response_cents * later, highest_cents(strings[i], start))
        turn = Turn(place=i, kind="raise", from_cents=start, to_cents=_down_to_grain(aim))
        later += added_load(turn, strings)
        turns.append(turn)
    return [*reversed(turns), *installs]


def _as_found(
    turns: Sequence[Turn], levels: Sequence[float | None], strings: Sequence[Standing], response_cents: float
) -> list[Turn]:
    """The same turns, each from where it finds its string once those before it have pulled it down."""
    now = list(levels)
    found = []
    for turn in turns:
        level = now[turn.place]
        if level is not None:
            to = min(turn.to_cents, _down_to_grain(highest_cents(strings[turn.place], level)))
            turn = replace(turn, from_cents=level, to_cents=to)
        found.append(turn)
        now = levels_after([turn], now, strings, response_cents)
    return found


def _new_in_this_pass(
    base: Sequence[float | None], strings: Sequence[Standing], total_share: float, settings: PlanSettings
) -> list[int]:
    """The new strings that this pass can bear: all, unless they alone would exceed its load; at least one."""
    new = [i for i, c in enumerate(base) if c is None]
    chosen, left = [], total_share
    for i in new:
        load = strings[i].weight * share_of_full(_beside(i, base, settings))
        if load <= left:
            chosen.append(i)
            left -= load
    return chosen or new[:1]


def _beside(place: int, levels: Sequence[float | None], settings: PlanSettings) -> float:
    """The middle level of the nearest strings to either side; never above 0."""
    below = [c for c in levels[:place] if c is not None][-settings.neighbours_n :]
    above = [c for c in levels[place + 1 :] if c is not None][: settings.neighbours_n]
    return min(statistics.median_low(below + above), 0.0) if below or above else settings.install_alone_cents


def _alone_cents(standing: Standing, total_share: float) -> float:
    """How high the string alone may come before it exceeds what a pass may add to the harp."""
    return 600 * math.log2(total_share / standing.weight)


def _down_to_grain(cents: float) -> float:
    """Rounded down to the tenth of a cent that is written, so that no limit is exceeded by rounding."""
    return min(math.floor(cents / _GRAIN_CENTS + 1e-6) * _GRAIN_CENTS, 0.0) + 0.0
