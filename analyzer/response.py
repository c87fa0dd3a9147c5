"""Response: how far a harp's tuned strings fall as others come up, measured from two surveys and the work between.

Task: what stood where before, which turns were made, what stands where now -> cents that a string falls as the
harp's full load is added after its own last turn, with its interval; and what fell besides (settling).

Conventions: cents against the string's target; loads as shares of the harp's full load.

Method: each string was left at a known level by its last turn, and a known load was added after that. Fall over
load is a straight line; its slope is the response, its height at no load the settling (stretch of the strings,
which no later load explains). Theil–Sen: the median of all slopes between two strings, so that a slipped pin or a
string set wrong does not count (Sen, J. Am. Stat. Assoc. 63 (1968) 1379; 95 % interval from the ranks).

No figure is published for a harp. On pianos, technicians allow for 10 to 38 % of each correction (a technicians'
list, 2006), which is 90 to 350 cents for the full load.

Known limits: one slope for all strings, as their working order gives it: long strings, turned first, see the most
load. A pin not turned as planned is noise.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.passes import Standing, Turn, added_load
from analyzer.settings import PlanSettings

_DEFAULTS = PlanSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Followed:
    """Work done between two surveys."""

    strings: tuple[Standing, ...]
    """As the earlier survey found them."""
    turns: tuple[Turn, ...]
    """In the order they were made."""
    now_cents: tuple[float | None, ...]
    """As the later survey found them."""
    days: int | None
    """Between the surveys."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """How this harp gives way."""

    cents: float
    """A string's fall as the full load is added after its turn; never below 0."""
    low_cents: float
    high_cents: float
    """95 % interval of the slope, before it is held to 0."""
    settling_cents: float
    """Fall that no later load explains, in the time between the surveys."""
    cents_per_day: float | None
    """That, over the days between; None where they are not known."""
    strings_n: int


def measure(work: Sequence[Followed], settings: PlanSettings = _DEFAULTS) -> Response | None:
    """The response over all the work given; None where too few strings or too little load say anything."""
    slope = 0.0
    fit: tuple[float, float, float, float] | None = None
    points: list[tuple[float, float]] = []
    for _ in range(settings.response_rounds_n):
        points = [point for done in work for point in _points(done, slope)]
        loads, falls = [x for x, _ in points], [d for _, d in points]
        if len(points) < settings.response_strings_n or max(loads) - min(loads) < settings.response_load:
            return None
        fit = _line(loads, falls)
        slope = max(fit[0], 0.0)
    if fit is None:
        return None
    days = [done.days for done in work]
    known = sum(d for d in days if d is not None)
    return Response(
        cents=slope,
        low_cents=fit[2],
        high_cents=fit[3],
        settling_cents=fit[1],
        cents_per_day=fit[1] * len(work) / known if known and None not in days else None,
        strings_n=len(points),
    )


def _line(loads: Sequence[float], falls: Sequence[float]) -> tuple[float, float, float, float]:
    """Slope, height at no load, and the slope's 95 % interval."""
    from scipy.stats import theilslopes

    slope, height, low, high = theilslopes(falls, loads, alpha=0.95)
    return float(slope), float(height), float(low), float(high)


def _points(done: Followed, response_cents: float) -> list[tuple[float, float]]:
    """For each string: load added after its last turn, and how far it fell since."""
    level: list[float | None] = [s.cents for s in done.strings]
    after = [0.0] * len(level)
    for turn in done.turns:
        found = level[turn.place]
        fallen = None if found is None else found - response_cents * after[turn.place]
        start = None if turn.kind == "install" else fallen
        load = added_load(
            Turn(place=turn.place, kind=turn.kind, from_cents=start, to_cents=turn.to_cents), done.strings
        )
        after = [x + load for x in after]
        after[turn.place], level[turn.place] = 0.0, turn.to_cents
    return [
        (x, left - now)
        for x, left, now in zip(after, level, done.now_cents, strict=True)
        if left is not None and now is not None
    ]
