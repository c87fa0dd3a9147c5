"""Plans followed on a simulated harp that gives way, creeps and breaks (physics stated in simulated_harp)."""

import pytest

from analyzer.answers import Answers, Kept, fingerprint
from analyzer.layout import load_layout
from analyzer.plan import Plan, make_plan, response_of
from analyzer.survey import Survey
from analyzer.tuning import make_tuning
from tests.simulated_harp import DAY_MIN, SimulatedHarp, slack
from tests.survey_of import START, survey_of

ANSWERS = Answers(inspected="good", confirm_all=True)


def follow(harp: SimulatedHarp) -> tuple[int, int]:
    """Plan, work to the stop, record, plan again from that …; (passes made, fewest the limits allow)."""
    survey = survey_of(harp.layout, harp.tuning, harp.measured())
    surveys: list[Survey] = [survey]
    kept: list[Kept] = []
    plan = make_plan(survey, ANSWERS, start=START)
    bound, made = plan.bound_n, 0
    while plan.passes:
        for rows in plan.passes[: plan.checkpoint_n]:
            for row in rows:
                harp.turn(row.string, row.to_cents, *([] if row.most_cents is None else [row.most_cents]))
            harp.wait(DAY_MIN)
            made += 1
        assert made < 40
        kept.append(keep(surveys[-1], plan))
        surveys.append(survey_of(harp.layout, harp.tuning, harp.measured()))
        response = response_of(surveys, kept, [k.checkpoint_passes for k in kept])
        plan = make_plan(surveys[-1], ANSWERS, start=START, response=response)
    return made, bound


def keep(survey: Survey, plan: Plan) -> Kept:
    return Kept(
        schema=1,
        fingerprint=fingerprint(survey),
        answers=ANSWERS,
        turns=plan.turns,
        checkpoint_passes=plan.checkpoint_n,
    )


def neglected(layout: str, base_cents: float, give_cents: float, seed: int, **more: float) -> SimulatedHarp:
    its = load_layout(layout)
    return SimulatedHarp(
        layout=its,
        tuning=make_tuning(its),
        cents=slack(its, base_cents, 20.0, seed),
        give_cents=give_cents,
        seed=seed,
        **more,
    )


@pytest.mark.parametrize(
    ("layout", "base_cents", "give_cents", "seed"),
    [
        # pianos lose 10 to 38 % of each correction (a technicians' list, 2006): 90 to 350 cents for the full load
        ("lever-34", -250.0, 0.0, 1),
        ("lever-34", -250.0, 100.0, 2),
        ("lever-34", -400.0, 100.0, 3),
        ("lever-34", -400.0, 200.0, 4),
        ("lever-34-heavy", -350.0, 150.0, 5),
        ("lever-34", -600.0, 150.0, 6),
        ("pedal-47", -400.0, 150.0, 7),
    ],
)
def test_following_the_plan_brings_the_harp_up_whole(
    layout: str, base_cents: float, give_cents: float, seed: int, capsys: pytest.CaptureFixture[str]
) -> None:
    harp = neglected(layout, base_cents, give_cents, seed)
    made, bound = follow(harp)
    at_once = straight(neglected(layout, base_cents, give_cents, seed))
    with capsys.disabled():
        print(
            f"\n{layout} {base_cents:.0f} cents, gives {give_cents:.0f}: {made} passes (limits alone: {bound}), worst"
            f" {harp.worst_cents():.1f} cents, largest turn {harp.largest_turn_cents:.0f}; in one pass: worst"
            f" {at_once.worst_cents():.1f} cents, largest turn {at_once.largest_turn_cents:.0f}"
        )
    assert harp.worst_cents() <= 3.0
    assert not harp.broken
    assert not harp.overloaded
    assert harp.largest_turn_cents <= 150.0 + 1.0
    assert made <= 1.3 * bound
    assert at_once.worst_cents() > harp.worst_cents()


def straight(harp: SimulatedHarp) -> SimulatedHarp:
    """Tuned straight to pitch, each string once, and left for a day."""
    for string in harp.names:
        harp.turn(string, 0.0)
    harp.wait(DAY_MIN)
    return harp


def test_missing_strings_come_up_with_the_rest() -> None:
    harp = neglected("lever-34", -300.0, 100.0, 8)
    for place in (5, 20, 30):
        harp.cents[place] = None
    follow(harp)
    assert harp.worst_cents() <= 3.0
    assert not harp.broken


def test_the_simulated_harp_breaks_an_overwound_string() -> None:
    harp = neglected("lever-34", -50.0, 0.0, 9)
    harp.breaking = [b if n != "A4" else 0.9 for b, n in zip(harp.breaking, harp.names, strict=True)]
    harp.turn("A4", 0.0)
    assert harp.broken == {"A4"}


def test_the_simulated_harp_gives_way_as_much_as_it_was_told() -> None:
    harp = neglected("lever-34", 0.0, 150.0, 10)
    falls = [sum(each * full_n for each, full_n in zip(row, harp.full_n, strict=True)) for row in harp.fall]
    assert sum(falls) / len(falls) == pytest.approx(150.0, rel=0.25)
