"""Following plans on a simulated harp, as a technician does who obeys every word of them."""

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

from analyzer.answers import Answers, Kept, fingerprint
from analyzer.layout import load_layout
from analyzer.load import harp_load, share_of_full
from analyzer.pass_limits import Standing, highest_cents, lowest_cents, room_cents
from analyzer.plan import Plan, make_plan, response_of, standings
from analyzer.settings import PlanSettings
from analyzer.survey import Survey
from analyzer.tuning import make_tuning
from tests.simulated_harp import DAY_MIN, NEW, SimulatedHarp
from tests.survey_of import START, survey_of

ANSWERS = Answers(inspected="good", confirm_all=True)
REST_MIN = 60.0
SITTING_MIN = 4 * 60.0
WITHIN_CENTS = 3.0
RETUNE_CENTS = 10.0
ROOM = 0.04
_SET = PlanSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One neglected harp."""

    layout: str
    base_cents: float
    scatter_cents: float
    give_cents: float
    creep: float
    missing_n: int = 0
    octave_low_n: int = 0
    gentle: bool = False
    seed: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What following the plans came to."""

    passes: int
    """Sittings that raise the harp."""
    retunings: int
    """Sittings besides that only set right what has stretched: no string by more than `RETUNE_CENTS`."""
    bound: int
    """Fewest passes that the limits allow on a harp that does not stretch, by the first plan."""
    stretching_bound: int
    """Fewest that they allow on this one (`stretching_bound`)."""
    bound_with_room: int
    """The same with limits `ROOM` lower: higher where the limits leave less room than a hand and a tuner take."""
    worst_cents: float
    """Furthest that any string is off, a day after the last pass."""
    broken: int
    overloaded: int
    load_over: float
    """Most that a sitting added to the harp, over its limit (1: just at it)."""
    own_over_cents: float
    """Most cents that a string came above what its own limits allow from where the sitting found it."""
    turns: int
    """Turns of pins, over the number of strings."""


def harp_of(case: Case) -> SimulatedHarp:
    """The harp as it is found: the bass sunk most, neighbours alike, each with a scatter of its own."""
    layout = load_layout(case.layout)
    rng = random.Random(case.seed)
    n = len(layout.strings)
    cents: list[float | None] = [
        min(case.base_cents * (1.15 - 0.3 * i / n) + rng.uniform(-1, 1) * case.scatter_cents, -3.0) for i in range(n)
    ]
    odd = rng.sample(range(n), case.missing_n + case.octave_low_n)
    for place in odd[: case.missing_n]:
        cents[place] = None
    for place in odd[case.missing_n :]:
        cents[place] = -1200.0 + rng.uniform(-30.0, 0.0)
    return SimulatedHarp(
        layout=layout,
        tuning=make_tuning(layout),
        cents=cents,
        give_cents=case.give_cents,
        creep=case.creep,
        seed=case.seed,
    )


def follow(harp: SimulatedHarp, answers: Answers = ANSWERS) -> Outcome:
    """Plan, work to the stop, record, plan again from that …, until the plan says that there is nothing to raise."""
    survey = survey_of(harp.layout, harp.tuning, harp.measured())
    surveys: list[Survey] = [survey]
    kept: list[Kept] = []
    plan = make_plan(survey, answers, start=START)
    own = _standings(harp, survey, answers)
    made, retunings, bound, load_over, own_over = 0, 0, plan.bound_n, 0.0, 0.0
    hardest = stretching_bound(harp, own, plan.limits.total_share)
    lower = [replace(s, turn_cents=s.turn_cents * (1 - ROOM), turn_share=s.turn_share * (1 - ROOM)) for s in own]
    tight = stretching_bound(harp, lower, plan.limits.total_share * (1 - ROOM))
    while plan.passes and made + retunings < 60:
        for n in range(1, plan.checkpoint_n + 1):
            raised = max(
                -c if (c := r.from_cents) is not None else math.inf for r in plan.passes[n - 1] if r.kind != "keep"
            )
            sit(harp, plan, n)
            load_over = max(load_over, harp.most_load / plan.limits.total_share)
            own_over = max(own_over, _own_over(harp, own))
            harp.wait(DAY_MIN)
            made, retunings = (made + 1, retunings) if raised > RETUNE_CENTS else (made, retunings + 1)
        kept.append(keep(surveys[-1], plan))
        surveys.append(survey_of(harp.layout, harp.tuning, harp.measured()))
        response = response_of(surveys, kept, [k.checkpoint_passes for k in kept])
        plan = make_plan(surveys[-1], answers, start=START, response=response)
    return Outcome(
        passes=made,
        retunings=retunings,
        bound=bound,
        stretching_bound=hardest,
        bound_with_room=tight,
        worst_cents=harp.worst_cents(),
        broken=len(harp.broken),
        overloaded=len(harp.overloaded),
        load_over=load_over,
        own_over_cents=own_over,
        turns=harp.turns_n,
    )


def stretching_bound(harp: SimulatedHarp, own: Sequence[Standing], total_share: float) -> int:
    """Fewest sittings, one a day and none longer than `SITTING_MIN`, that bring this harp within ± 3 cents a day later.

    As `passes_bound`, but with what the strings stretch in a night. A raise by r in a sitting loses at least k·r in
    the night after it, k = creep·log10((1 + S + D)/(1 + S)), S the sitting's longest and D the day: the law flattens,
    so what was raised at the sitting's beginning loses least. From level x no string is then above
    x + (1 − k)·(h(x) − x) next day, h being the limit of one pass; that rises with x because h does. Tension is convex
    in cents, so the top k of a rise carries at least k of its tension: of the load a sitting adds, k is lost. A new
    string counts as raised by 200 cents times its factor, and its nth night loses at least that at the flattest part.
    Hence it must have been fitted as many nights before the end as it takes until a night loses no more than 3 cents;
    by then it must stand where its own limits let it come up in what is left, and higher by what that night takes, and
    all new strings' load of that is within the limits of the sittings so far; as is, in the morning, that of all
    strings where theirs let them.
    """
    night = _night(harp, SITTING_MIN)
    end = share_of_full(-WITHIN_CENTS)
    reach = [0.0 if s.cents is None else min(s.cents, 0.0) for s in own]
    start = [0.0 if s.cents is None else share_of_full(c) for s, c in zip(own, reach, strict=True)]
    needed = sum(s.weight * (end - x) for s, x in zip(own, start, strict=True))
    added = 0.0
    for n in range(1, _SET.passes_limit_n):
        reach = [c + (1 - night) * (highest_cents(s, c) - c) for s, c in zip(own, reach, strict=True)]
        most = sum(s.weight * (share_of_full(c) - x) for s, c, x in zip(own, reach, start, strict=True))
        added = min(added + (1 - night) * total_share, most)
        fitting_n = n - (_nights(harp) - 1 if any(s.cents is None for s in own) else 0)
        lost = 200.0 * NEW * _night(harp, fitting_n * SITTING_MIN + (fitting_n - 1) * DAY_MIN) if fitting_n > 0 else 0.0
        new_load = sum(
            s.weight * share_of_full(min(_latest(s, n - fitting_n) + lost, 0.0)) for s in own if s.cents is None
        )
        by_then = sum(
            s.weight * max(share_of_full(_latest(s, n - fitting_n)) - x, 0.0) for s, x in zip(own, start, strict=True)
        )
        in_time = new_load <= fitting_n * total_share and by_then <= (1 - night) * fitting_n * total_share
        if added >= needed and min(reach) >= -WITHIN_CENTS and fitting_n > 0 and in_time:
            return n
    return _SET.passes_limit_n


def _nights(harp: SimulatedHarp) -> int:
    """Nights after which a new string loses no more than 3 cents in one."""
    n = 1
    while 200.0 * NEW * _night(harp, n * SITTING_MIN + (n - 1) * DAY_MIN) > WITHIN_CENTS:
        n += 1
    return n


def _latest(own: Standing, later_n: int) -> float:
    """How far down the string may stand with so many sittings to come."""
    level = -WITHIN_CENTS
    for _ in range(later_n):
        level = lowest_cents(own, level)
    return level


def _night(harp: SimulatedHarp, since_min: float) -> float:
    """What a raise this long ago loses in the coming day, share of the raise."""
    return harp.creep * math.log10((1 + since_min + DAY_MIN) / (1 + since_min))


def sit(harp: SimulatedHarp, plan: Plan, n: int) -> None:
    """One pass: down the table, then again what has fallen, as the pass's last remark says."""
    harp.sitting()
    rows, last = plan.passes[n - 1], n == len(plan.passes)
    figures = dict.fromkeys(harp.names, 0.0) if last else {}
    for row in rows:
        if row.kind != "keep":
            harp.turn(row.string, row.to_cents, *([] if row.most_cents is None else [row.most_cents]))
        if row.end_cents is not None:
            figures[row.string] = row.end_cents
    if n == 1:
        for string in plan.measuring:
            del figures[string]
    if last:
        harp.wait(REST_MIN)
    for _ in range(_SET.rounds_n - 1):
        before = harp.turns_n
        for string, figure in figures.items():
            off = harp.off(string)
            if off is not None and off < figure - (0.5 if last else 1.0):
                harp.turn(string, figure)
        if harp.turns_n == before:
            return


def keep(survey: Survey, plan: Plan) -> Kept:
    """What the command keeps with the survey."""
    return Kept(
        schema=1,
        fingerprint=fingerprint(survey),
        answers=plan.answers,
        turns=plan.turns,
        checkpoint_passes=plan.checkpoint_n,
        measuring=plan.measuring,
    )


def _standings(harp: SimulatedHarp, survey: Survey, answers: Answers) -> tuple[Standing, ...]:
    load = harp_load(harp.layout, harp.tuning.targets, {r.string: r.cents for r in survey.strings})
    return standings(survey, answers, load)


def _own_over(harp: SimulatedHarp, own: Sequence[Standing]) -> float:
    """Cents by which the string that came furthest over its limits in this sitting did; below 0: none."""
    over = [-1.0]
    for i, s in enumerate(own):
        began = harp.began[i]
        if began is not None:
            over.append(harp.most_added[i][0] - room_cents(s, began))
    return max(over)


def straight(harp: SimulatedHarp) -> SimulatedHarp:
    """Tuned straight to pitch, each string once, and left for a day."""
    harp.sitting()
    for string in harp.names:
        harp.turn(string, 0.0)
    harp.wait(DAY_MIN)
    return harp
