"""The limits of a pass: how far it may bring a string and a harp, and the fewest passes that this allows.

Task: where a string stands and its limits -> how far up one pass may bring it; levels and turns -> load; all strings
-> the fewest passes that any schedule must take.

Conventions: cents against the string's target, never raised above 0; tension of a string as a share of its tension at
pitch, 2^(cents/600); its weight is its share of the harp's full load.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from analyzer.load import share_of_full
from analyzer.settings import PlanSettings

Kind = Literal["lower", "raise", "install", "keep"]
Levels = Sequence[float | None]

_ROUNDING = 1e-9
_DEFAULTS = PlanSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where one string stands and how far it may be brought in one pass."""

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
    end_cents: float | None = None
    """Where the pass is to leave it, set right to that at its end; None for what is let down, and in plans of an
    earlier version."""


def room_cents(standing: Standing, from_cents: float) -> float:
    """By how much one pass may raise the string from there, wherever its target is."""
    by_share = 600 * math.log2(share_of_full(from_cents) + standing.turn_share)
    return min(standing.turn_cents, by_share - from_cents)


def highest_cents(standing: Standing, from_cents: float) -> float:
    """How far up one pass may bring the string from there; never above its target."""
    return min(from_cents + room_cents(standing, from_cents), 0.0)


def lowest_cents(standing: Standing, to_cents: float) -> float:
    """From how far down one pass may bring the string there: the inverse of `highest_cents`."""
    share = share_of_full(to_cents) - standing.turn_share
    by_share = 600 * math.log2(share) if share > 0.0 else -math.inf
    return max(to_cents - standing.turn_cents, by_share)


def added_load(turn: Turn, strings: Sequence[Standing]) -> float:
    """Load that a turn adds to the harp (below 0 where it lets a string down), share of the full load."""
    before = 0.0 if turn.from_cents is None else share_of_full(turn.from_cents)
    return strings[turn.place].weight * (share_of_full(turn.to_cents) - before)


def load_between(before: Levels, after: Levels, strings: Sequence[Standing]) -> float:
    """How much more the harp carries at the later levels than at the earlier, share of the full load."""
    return sum(
        s.weight * (share_of_full(b) - (0.0 if a is None else share_of_full(a)))
        for s, a, b in zip(strings, before, after, strict=True)
        if b is not None
    )


def levels_after(
    turns: Sequence[Turn], levels: Levels, strings: Sequence[Standing], response_cents: float
) -> list[float | None]:
    """Where every string stands after these turns, each of which lets all other strings fall."""
    now = list(levels)
    for turn in turns:
        fall = response_cents * added_load(turn, strings)
        now = [None if c is None else c - fall for c in now]
        now[turn.place] = turn.to_cents
    return now


def passes_bound(strings: Sequence[Standing], *, total_share: float, settings: PlanSettings = _DEFAULTS) -> int:
    """Fewest passes that the limits allow, whatever the order and however the harp gives way.

    Proof. Let h be `highest_cents`. It rises with its argument, so by induction no schedule has string i above
    h^p(start) after p passes; what a string falls, through the soundboard or by stretching, only lowers the argument.
    Hence (1) p is too few while any h^p(start) is short of tolerance; (2) the load added after p passes is at most
    that of all strings at h^p(start), and (3) at most the load added after p − 1 passes and `total_share` more. The
    load that has to be added is at least that of every string at its tolerance's lower edge. (4) To finish in n passes,
    after p of them every string there must stand where n − p passes of its own limits can still bring it up, and p
    passes must have added the load of that. What is let down comes first and what falls is not set against what is
    raised: the limit is on what is raised. A string to be fitted has no limits of its own in the pass that fits it.
    """
    if not unfinished([s.cents for s in strings], settings):
        return 0
    end = share_of_full(-settings.in_tune_cents)
    reach = [0.0 if s.cents is None else min(s.cents, 0.0) for s in strings]
    start = [0.0 if s.cents is None else share_of_full(c) for s, c in zip(strings, reach, strict=True)]
    needed = sum(s.weight * max(end - x, 0.0) for s, x in zip(strings, start, strict=True))
    added = 0.0
    for n in range(1, settings.passes_limit_n):
        reach = [highest_cents(s, c) for s, c in zip(strings, reach, strict=True)]
        most = sum(s.weight * (share_of_full(c) - x) for s, c, x in zip(strings, reach, start, strict=True))
        added = min(added + total_share, most)
        there = added >= needed - _ROUNDING and min(reach) >= -settings.in_tune_cents - _ROUNDING
        if there and _in_time(strings, n, total_share, settings):
            return n
    return settings.passes_limit_n


def _in_time(strings: Sequence[Standing], n: int, total_share: float, settings: PlanSettings) -> bool:
    """Whether passes before the nth can add what every string must have by then."""
    there = [(s, share_of_full(min(s.cents, 0.0))) for s in strings if s.cents is not None]
    latest = [-settings.in_tune_cents] * len(there)
    for p in reversed(range(1, n)):
        latest = [lowest_cents(s, c) for (s, _), c in zip(there, latest, strict=True)]
        by_then = sum(s.weight * max(share_of_full(c) - x, 0.0) for (s, x), c in zip(there, latest, strict=True))
        if by_then > p * total_share + _ROUNDING:
            return False
    return True


def turns_needed(standing: Standing, level: float, settings: PlanSettings = _DEFAULTS) -> int:
    """How many passes of its own limits bring one string from there to its target."""
    n = 0
    while level < -settings.in_tune_cents:
        n, level = n + 1, highest_cents(standing, level)
    return n


def unfinished(levels: Levels, settings: PlanSettings) -> bool:
    """Whether any string is missing or further off than is left alone."""
    return any(c is None or abs(c) > settings.in_tune_cents for c in levels)
