"""Passes: which string is turned how far, in which order, so that the whole harp comes up together.

Task: from where every string stands, its limits and those of the harp -> turns, pass by pass, until every
string is at its target.

Conventions: levels in cents against the string's target, so the goal is 0 for all; tension of a string as a
share of its tension at pitch, 2^(cents/600); its weight is its share of the harp's full load.

A pass is one sitting, after which the harp rests: once across the whole harp in the order of the table, and then
through it again to set right what has fallen meanwhile. Its limits hold from the sitting's beginning to its end,
however often a string is set right in it: no string ends further above where the pass found it than its own limits
of cents and of share allow, the harp carries no more than `total_share` above what it carried, and no single turn
raises a string by more than its own limits either. What a string has lost because the soundboard gave way, it does
not bear: giving that back within the pass brings it no further up than the limit. All this is planned: what strings
lost since the recording, and is brought back, comes on top (`PlanSettings.load_over_share`, `turn_over_cents`).

Method: like water rising, with a timetable. In each pass there is one level; every string below it is brought to it,
as far as its own limits allow, and the level is the highest (found by bisection) at which the load added in the pass
stays within its limit, so that every pass but the last is full. Strings above it wait; but none waits longer than
lets it arrive with the others: a string with tighter limits, or further down, is brought at least so far that its own
limits still let it finish in the fewest passes that all the limits allow. A string never gets further ahead of a
neighbour than `apart_cents`, or than it was. Sharp strings come down first. Then the longest string first: what the
long ones pull down is still to be tuned. New strings come last in a pass, when their neighbours stand where the new
one is to be brought to, but they come before any raising in what load a pass may add; where that is short, they are
brought a little less far or, while passes enough are left, wait for the next, so that no other string is left behind
for them.

As strings come up, the soundboard gives way and those already tuned fall. `response` is by how many cents, for the
harp's full load added after them; none is published, so it is 0 until measured (`response`). With one, the turns aim
higher by what will be lost, never above pitch nor the limits, so that the second time through finds less to do.

Known limits: one response and one settling for all strings.
"""

import math
import statistics
from collections.abc import Sequence
from dataclasses import replace
from itertools import count, pairwise

from analyzer.errors import UnusableInput
from analyzer.load import share_of_full
from analyzer.pass_limits import (
    Levels,
    Standing,
    Turn,
    added_load,
    highest_cents,
    levels_after,
    load_between,
    lowest_cents,
    passes_bound,
    unfinished,
)
from analyzer.settings import PlanSettings

_GRAIN_CENTS = 0.1
_BISECTIONS = 30
_DEFAULTS = PlanSettings()


def schedule(
    strings: Sequence[Standing],
    *,
    total_share: float,
    response_cents: float = 0.0,
    settling_cents: float = 0.0,
    settings: PlanSettings = _DEFAULTS,
) -> tuple[tuple[Turn, ...], ...]:
    """The turns of each pass, in working order; none for a harp in tune.

    `total_share`: most load a pass may add. `response_cents`: cents that a string falls as the full load is added
    after its turn. `settling_cents`: what a string that was turned loses by stretching until the next pass. Raises
    UnusableInput where no reasonable number of passes gets there.
    """
    levels: Levels = [s.cents for s in strings]
    passes: list[tuple[Turn, ...]] = []
    while unfinished(levels, settings):
        turns, levels = _one_pass(levels, strings, total_share, response_cents, settings)
        if all(t.kind == "keep" for t in turns) or len(passes) == settings.passes_limit_n:
            raise UnusableInput(
                f"no plan of up to {settings.passes_limit_n} passes brings this harp to pitch within the limits;"
                " ask a qualified harp technician."
            )
        passes.append(turns)
        if unfinished(levels, settings):
            turned = {t.place for t in turns if t.kind != "keep"}
            levels = [c - settling_cents if c is not None and i in turned else c for i, c in enumerate(levels)]
    return tuple(passes)


def _one_pass(
    levels: Levels, strings: Sequence[Standing], total_share: float, response_cents: float, settings: PlanSettings
) -> tuple[tuple[Turn, ...], list[float | None]]:
    """The turns of one pass, and where they leave the strings: sharp ones down, then as much up as the load allows."""
    down = _lowering(levels, strings, response_cents, settings)
    base = levels_after(down, levels, strings, response_cents)
    goals = _highest_goals(base, strings, total_share, settings)
    installs = [
        Turn(place=i, kind="install", from_cents=None, to_cents=c, end_cents=c)
        for i, (was, c) in enumerate(zip(base, goals, strict=True))
        if was is None and c is not None
    ]
    up = _as_found(_aims(goals, base, strings, installs, response_cents), base, strings, response_cents)
    falls_cents = (response_cents or settings.unknown_response_cents) * sum(added_load(t, strings) for t in up)
    kept = _kept(up, base) if falls_cents > settings.in_tune_cents else []
    return (*down, *up, *kept), goals


def _highest_goals(
    base: Levels, strings: Sequence[Standing], total_share: float, settings: PlanSettings
) -> list[float | None]:
    """Where the strings are to stand after the pass: the highest that its load allows, none left behind."""
    bearable = _new_in_this_pass(base, strings, total_share, settings)
    lowest = min((c for c in base if c is not None), default=0.0)
    now = [replace(s, cents=c) for s, c in zip(strings, base, strict=True)]
    fewest = passes_bound(now, total_share=total_share, settings=settings)

    def at(level: float, floors: Sequence[float], new: Sequence[int]) -> list[float | None]:
        goals = _goals(base, level, floors, strings, settings)
        eased = min(level - lowest, 0.0)
        fitted = {
            i: _down_to_grain(
                min(max(_beside(i, goals, settings) + eased, floors[i]), _alone_cents(strings[i], total_share))
            )
            for i in new
        }
        return [fitted.get(i, c) for i, c in enumerate(goals)]

    def fits(goals: Levels) -> bool:
        return load_between(base, goals, strings) <= total_share

    floors, new = next(
        (floors, bearable[:new_n])
        for later_n in count(max(fewest - 1, 0))
        for careful, waiting_n in _trials(len(bearable) if later_n >= settings.fitted_passes_n else 0)
        for new_n in [len(bearable) - waiting_n]
        for floors in [[_latest_cents(s, later_n, careful, settings) for s in now]]
        if fits(at(lowest - settings.ease_cents, floors, bearable[:new_n]))
        or max(floors) <= lowest - settings.ease_cents
    )
    best = at(0.0, floors, new)
    if fits(best):
        return best
    low, high = lowest - settings.ease_cents, 0.0
    best = at(low, floors, new)
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2
        goals = at(middle, floors, new)
        if fits(goals):
            low, best = middle, goals
        else:
            high = middle
    return best


def _trials(most_n: int) -> list[tuple[bool, int]]:
    """Whether to keep room for stretching, and how many new strings are to wait: what is tried, the best first."""
    return [(True, 0), *((False, n) for n in range(most_n + 1))]


def _latest_cents(standing: Standing, later_n: int, careful: bool, settings: PlanSettings) -> float:
    """How far down a string may still stand that this many later passes are to bring to pitch.

    `careful`: with room for what it stretches until then.
    """
    level = 0.0
    for n in range(later_n):
        new = standing.cents is None and n == later_n - 1
        room = (settings.new_stretch_cents if new else settings.behind_cents) if careful else 0.0
        level = min(lowest_cents(standing, level) + room, 0.0)
    return level


def _goals(
    base: Levels, level: float, floors: Sequence[float], strings: Sequence[Standing], settings: PlanSettings
) -> list[float | None]:
    """Where each string is to stand after the pass if the water rises to `level`; one that is in tune stays."""
    start = {i: c for i, c in enumerate(base) if c is not None}
    known = list(start)
    ceiling = {
        i: c
        if c >= -settings.touch_cents
        else max(c, _down_to_grain(min(max(level, floors[i]), highest_cents(strings[i], c))))
        for i, c in start.items()
    }
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
    goals: Levels, base: Levels, strings: Sequence[Standing], installs: Sequence[Turn], response_cents: float
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
        turn = Turn(place=i, kind="raise", from_cents=start, to_cents=_down_to_grain(aim), end_cents=goal)
        later += added_load(turn, strings)
        turns.append(turn)
    return [*reversed(turns), *installs]


def _kept(turns: Sequence[Turn], base: Levels) -> list[Turn]:
    """The strings that are not turned, to be set right at the end."""
    turned = {t.place for t in turns}
    return [
        Turn(place=i, kind="keep", from_cents=c, to_cents=c, end_cents=c)
        for i, c in enumerate(base)
        if i not in turned and c is not None
    ]


def _as_found(turns: Sequence[Turn], base: Levels, strings: Sequence[Standing], response_cents: float) -> list[Turn]:
    """The same turns, each from where it finds its string once those before it have pulled it down."""
    now = list(base)
    found = []
    for turn in turns:
        level = now[turn.place]
        if level is not None:
            most = highest_cents(strings[turn.place], level)
            turn = replace(turn, from_cents=level, to_cents=min(turn.to_cents, _down_to_grain(most)))
        found.append(turn)
        now = levels_after([turn], now, strings, response_cents)
    return found


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


def _new_in_this_pass(
    base: Sequence[float | None], strings: Sequence[Standing], total_share: float, settings: PlanSettings
) -> list[int]:
    """The new strings that this pass can bear: all, unless they alone would exceed its load; at least one."""
    new = [i for i, c in enumerate(base) if c is None]
    chosen, left = [], total_share
    for i in new:
        load = strings[i].weight * share_of_full(_beside(i, base, settings) - settings.ease_cents)
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
