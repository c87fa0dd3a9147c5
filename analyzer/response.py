"""Response: how far a harp's tuned strings fall as others come up, measured from two surveys and the work between.

Task: what stood where before, which turns were made, what stands where now -> cents that a string falls as the
harp's full load is added after its own last turn, with its interval; and what fell besides (settling).

Conventions: cents against the string's target; loads as shares of the harp's full load.

Method: each pass ends with the strings set right, but for a few that the first pass leaves as they fall: those were
left at a known level by their turn, and a known load was added after it, to which what is set right belongs. Fall over
load is a straight line; its slope is the response (its height is what strings lose besides). Theil–Sen: the median of
all slopes between two strings, so that a slipped pin or a string set wrong does not count (Sen, J. Am. Stat. Assoc. 63
(1968) 1379; 95 % interval from the ranks). The strings that were set right show what strings lose from the end of a
pass to the next recording: settling. In work done on plans of an earlier version nothing was set right: all strings
count for the line.

No figure is published for a harp. On pianos, technicians allow for 10 to 38 % of each correction (a technicians'
list, 2006), which is 90 to 350 cents for the full load.

Known limits: one slope for all strings, from few of them, hence a wide interval. A string that was left also stretches
for the rest of the sitting, the longer the earlier it was turned, which counts as response (some 40 cents for the full
load at a creep of 1 % of the raise a decade). A pin not turned as planned is noise.
"""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.pass_limits import Standing, Turn, added_load, turns_needed
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
    set_right: tuple[int, ...] = ()
    """Places of the strings that were set right at the end: what they fell in the pass does not show."""
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

    def fit(slope: float) -> tuple[float, float, float, float]:
        points = [p for done in work for p in _points(done, slope) if not p.set_right]
        return _line([p.load for p in points], [p.fall_cents for p in points])

    points = [p for done in work for p in _points(done, 0.0)]
    loads = [p.load for p in points if not p.set_right]
    if len(loads) < settings.response_strings_n or max(loads) - min(loads) < settings.response_load:
        return None
    # turns are larger by what the strings had fallen: the more they fall, the more load for the same fall
    low, high = 0.0, min(max(fit(0.0)[0], 0.0), settings.response_most_cents)
    for _ in range(settings.response_rounds_n):
        middle = (low + high) / 2
        low, high = (middle, high) if fit(middle)[0] > middle else (low, middle)
    slope, height, least, most = fit((low + high) / 2)
    set_right = [p.fall_cents for p in points if p.set_right]
    settling = statistics.median(set_right) if set_right else height
    days = [done.days for done in work]
    known = sum(d for d in days if d is not None)
    return Response(
        cents=max(slope, 0.0),
        low_cents=least,
        high_cents=most,
        settling_cents=settling,
        cents_per_day=settling * len(work) / known if known and None not in days else None,
        strings_n=len(loads),
    )


def strings_to_leave(
    turns: Sequence[Sequence[Turn]],
    strings: Sequence[Standing],
    bound_n: int,
    total_share: float,
    settings: PlanSettings = _DEFAULTS,
) -> tuple[int, ...]:
    """Places of the strings that the first pass leaves as they fall, so that the next survey shows by how much.

    Spread over the working order; none with tighter limits, none that could then no longer arrive with the others,
    none in a plan of one pass, and none where all passes are full: what these strings lose would cost one more.
    """
    full = sum(added_load(t, strings) for t in (turns[-1] if turns else ())) > settings.full_share * total_share
    widest = max((s.turn_cents for s in strings), default=0.0)
    spare = [
        t.place
        for t in (turns[0] if bound_n > 1 and not full else ())
        if t.kind == "raise"
        and strings[t.place].turn_cents == widest
        and turns_needed(strings[t.place], t.to_cents - settings.response_left_cents, settings) < bound_n
    ]
    n = min(settings.response_left_n, len(spare))
    return tuple(sorted(spare[(2 * k + 1) * len(spare) // (2 * n)] for k in range(n)))


def work_done(
    turns: Sequence[Sequence[Turn]],
    done_n: int,
    left: Sequence[int],
    strings_n: int,
    settings: PlanSettings = _DEFAULTS,
) -> tuple[tuple[Turn, ...], tuple[int, ...]]:
    """All turns of the first passes of a plan, those included that set right what has fallen; and the strings that
    were set right last. The plan's last pass sets right the whole harp."""
    done: list[Turn] = []
    last: dict[int, bool] = {}
    for n, one in enumerate(turns[:done_n], start=1):
        figures = {t.place: t.end_cents for t in one if t.end_cents is not None and (n > 1 or t.place not in left)}
        if figures and n == len(turns):
            figures = dict.fromkeys(range(strings_n), 0.0)
        again = [Turn(place=i, kind="raise", from_cents=None, to_cents=to) for i, to in figures.items()]
        done += [*(t for t in one if t.kind != "keep"), *again * (settings.rounds_n - 1)]
        last |= {t.place: False for t in one} | {t.place: True for t in again}
    return tuple(done), tuple(sorted(i for i, so in last.items() if so))


def _line(loads: Sequence[float], falls: Sequence[float]) -> tuple[float, float, float, float]:
    """Slope, height at no load, and the slope's 95 % interval."""
    from scipy.stats import theilslopes

    slope, height, low, high = theilslopes(falls, loads, alpha=0.95)
    return float(slope), float(height), float(low), float(high)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Point:
    """One string: load added after its last turn, and how far it fell since."""

    load: float
    fall_cents: float
    set_right: bool


def _points(done: Followed, response_cents: float) -> list[_Point]:
    """What each string says, were the response this."""
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
        _Point(load=x, fall_cents=left - now, set_right=i in done.set_right)
        for i, (x, left, now) in enumerate(zip(after, level, done.now_cents, strict=True))
        if left is not None and now is not None
    ]
