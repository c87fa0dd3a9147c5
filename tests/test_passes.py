import math
import random
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.load import share_of_full
from analyzer.pass_limits import Standing, Turn, highest_cents, levels_after, load_between, lowest_cents, passes_bound
from analyzer.passes import schedule
from analyzer.settings import PlanSettings

SET = PlanSettings()
TOTAL = SET.total_share


def harp(levels: list[float | None], factors: list[float] | None = None) -> list[Standing]:
    return [
        Standing(
            string=str(i),
            cents=c,
            weight=1 / len(levels),
            turn_cents=SET.turn_cents * f,
            turn_share=SET.turn_share * f,
        )
        for i, (c, f) in enumerate(zip(levels, factors or [1.0] * len(levels), strict=True))
    ]


@st.composite
def harps(draw: st.DrawFn) -> list[Standing]:
    n = draw(st.integers(5, 24))
    base = draw(st.floats(-600, 0))
    scatter = st.floats(-80, 80)
    odd = st.one_of(st.none(), st.just(-1190.0), st.floats(0, 300), st.floats(-900, -600))
    levels = [draw(odd) if draw(st.integers(0, 9)) == 0 else min(base + draw(scatter), 120.0) for _ in range(n)]
    factors = [draw(st.sampled_from([1.0, 1.0, 0.75, 0.5])) for _ in range(n)]
    return harp(levels, factors)


def left_at(turns: tuple[Turn, ...], levels: list[float | None], strings: list[Standing]) -> list[float | None]:
    """Where a pass leaves the strings: at its figures, what is let down having moved the others hardly at all."""
    now = levels_after([t for t in turns if t.kind == "lower"], levels, strings, 0.0)
    for t in turns:
        if t.end_cents is not None:
            now[t.place] = t.end_cents
    return now


@settings(deadline=None, max_examples=60)
@given(harps(), st.sampled_from([0.0, 120.0, 250.0]))
def test_no_pass_exceeds_a_limit(strings: list[Standing], response: float) -> None:
    levels = [s.cents for s in strings]
    for turns in schedule(strings, total_share=TOTAL, response_cents=response):
        down = [t for t in turns if t.kind == "lower"]
        began = levels_after(down, levels, strings, response)
        left = list(began)
        for t in turns[len(down) :]:
            left[t.place] = t.end_cents
        assert load_between(began, left, strings) <= TOTAL + 1e-9
        for t in turns:
            own, start = strings[t.place], began[t.place]
            if t.kind == "raise":
                assert t.from_cents is not None
                assert start is not None
                assert t.end_cents is not None
                for low, high in ((t.from_cents, t.to_cents), (start, t.to_cents), (start, t.end_cents)):
                    assert high - low <= own.turn_cents + 1e-6
                    assert share_of_full(high) - share_of_full(low) <= own.turn_share + 1e-9
                assert start < t.end_cents <= 0.0
            elif t.kind == "lower":
                assert t.from_cents is not None
                assert 0.0 < t.from_cents - t.to_cents <= 200.0
            if t.kind == "keep":
                assert t.from_cents == t.to_cents == t.end_cents == pytest.approx(start)
                continue
            assert t.to_cents <= 0.0 or t.kind == "lower"
            # a table of what each turn finds: where the last one and the falls since left the string
            if t.from_cents is not None:
                assert levels[t.place] == pytest.approx(t.from_cents)
            levels = levels_after([t], levels, strings, response)
        levels = left


@settings(deadline=None, max_examples=60)
@given(harps(), st.sampled_from([0.0, 120.0, 250.0]))
def test_every_string_ends_at_its_target(strings: list[Standing], response: float) -> None:
    levels = [s.cents for s in strings]
    for turns in schedule(strings, total_share=TOTAL, response_cents=response):
        down = [t for t in turns if t.kind == "lower"]
        levels = levels_after(down, levels, strings, response)
        for t in turns[len(down) :]:
            levels[t.place] = t.end_cents
    assert all(c is not None and abs(c) <= SET.in_tune_cents for c in levels)


@settings(deadline=None, max_examples=60)
@given(harps())
def test_neighbours_never_get_further_apart_than_the_limit_or_than_they_were(strings: list[Standing]) -> None:
    levels = [s.cents for s in strings]
    for turns in schedule(strings, total_share=TOTAL):
        after = left_at(turns, levels, strings)
        known = [i for i, c in enumerate(levels) if c is not None]
        for i, j in pairwise(known):
            a, b, c, d = levels[i], levels[j], after[i], after[j]
            assert a is not None and b is not None and c is not None and d is not None  # noqa: PT018 - narrows types
            assert abs(c - d) <= max(SET.apart_cents, abs(a - b)) + 0.2
        levels = after


@settings(deadline=None, max_examples=40)
@given(harps())
def test_sharp_strings_come_down_before_anything_is_raised(strings: list[Standing]) -> None:
    passes = schedule(strings, total_share=TOTAL)
    kinds = [t.kind for turns in passes for t in turns]
    assert "lower" not in kinds[kinds.count("lower") :]


@given(st.lists(st.floats(-SET.in_tune_cents, SET.in_tune_cents), min_size=1, max_size=47))
def test_a_harp_in_tune_gives_an_empty_plan(levels: list[float]) -> None:
    assert schedule(harp(list(levels)), total_share=TOTAL) == ()


@settings(deadline=None, max_examples=100)
@given(harps())
def test_the_schedule_is_close_to_the_fewest_passes_the_limits_allow(strings: list[Standing]) -> None:
    there = [s for s in strings if s.cents is not None]
    passes, bound = len(schedule(there, total_share=TOTAL)), passes_bound(there, total_share=TOTAL)
    assert bound <= passes <= 1.3 * bound


@given(st.floats(-1200.0, 0.0), st.sampled_from([1.0, 0.75, 0.5, 0.25]))
def test_as_far_down_as_one_pass_can_bring_up(level: float, factor: float) -> None:
    own = harp([level], [factor])[0]
    assert highest_cents(own, lowest_cents(own, level)) == pytest.approx(level, abs=1e-6)


@settings(deadline=None, max_examples=100)
@given(harps(), st.randoms(use_true_random=False))
def test_no_schedule_within_the_limits_is_shorter_than_the_bound(strings: list[Standing], rng: random.Random) -> None:
    # schedules drawn at random: some strings, in any order, each as far as its own limits and the load left allow
    bound = passes_bound(strings, total_share=TOTAL)
    levels = [s.cents if s.cents is None else min(s.cents, 0.0) for s in strings]
    for _ in range(bound - 1):
        left = TOTAL
        for i in rng.sample(range(len(strings)), len(strings)):
            level = levels[i]
            now = 0.0 if level is None else share_of_full(level)
            to = 0.0 if level is None else highest_cents(strings[i], level)
            share = min(share_of_full(to), now + left / strings[i].weight)
            levels[i] = 600 * math.log2(share) if share > 0.0 else None
            left -= strings[i].weight * (share - now)
    assert any(c is None or c < -SET.in_tune_cents - 1e-6 for c in levels) or bound <= 1


def test_bound_by_hand() -> None:
    # 2^(−400/600) = 0.630 of the full tension: 0.367 to add to within 2.5 cents of pitch, 0.10 a pass
    assert passes_bound(harp([-400.0] * 10), total_share=0.10) == 4
    # one string alone, 0.12 of its tension a pass: 1 − 2^(−100/600) = 0.109 takes one, 1 − 2^(−150/600) = 0.159 two
    assert passes_bound(harp([-100.0] + [0.0] * 20), total_share=0.10) == 1
    assert passes_bound(harp([-150.0] + [0.0] * 20), total_share=0.10) == 2
    # at −700 the 150 cents of a turn are 0.4454·(2^(150/600) − 1) = 0.0843 of the tension, less than the 0.10 of a
    # pass: −700, −550, then 0.5297 + 0.10 …, 0.997 in need of five more, where load alone says (0.997 − 0.445)/0.10 = 6
    assert passes_bound(harp([-700.0] * 10), total_share=0.10) == 6
    assert passes_bound(harp([-760.0] * 10), total_share=0.10) == 7
    assert passes_bound(harp([0.0] * 10), total_share=0.10) == 0
    assert passes_bound(harp([40.0] + [0.0] * 10), total_share=0.10) == 1


def test_a_new_string_is_brought_level_with_its_neighbours_in_the_first_pass_and_rises_with_them() -> None:
    levels: list[float | None] = [-300.0] * 20
    levels[7] = None
    passes = schedule(harp(levels), total_share=TOTAL)
    first = {t.place: t for t in passes[0]}
    assert (first[7].kind, first[7].from_cents, first[7].to_cents) == ("install", None, first[6].to_cents)
    assert passes[0][-1].place == 7
    for turns in passes[1:]:
        now = {t.place: t.to_cents for t in turns}
        assert now[7] == pytest.approx(now[6], abs=0.2)


def test_a_string_with_tighter_limits_is_brought_on_in_time() -> None:
    # 1 − 2^(−330/600) = 0.317: four passes by load, and by the limit of 0.09 four (0.314 = 3.5·0.09)
    strings = harp([-330.0] * 20, [0.75] + [1.0] * 19)
    passes = schedule(strings, total_share=TOTAL)
    assert len(passes) == passes_bound(strings, total_share=TOTAL) == 4


def test_more_new_strings_than_a_pass_can_bear_wait_for_the_next() -> None:
    levels: list[float | None] = [-50.0] * 10
    levels[2] = levels[4] = levels[6] = None
    passes = schedule(harp(levels), total_share=TOTAL)
    installed = [[t.place for t in turns if t.kind == "install"] for turns in passes]
    assert installed[:3] == [[2], [4], [6]]


def test_a_known_response_is_allowed_for_but_never_by_tuning_past_pitch() -> None:
    strings = harp([-300.0] * 20)
    plain = schedule(strings, total_share=TOTAL)[0]
    allowed = schedule(strings, total_share=TOTAL, response_cents=200.0)
    # 200 cents for the full load, 0.10 of it in a pass: the first string falls by some 19
    assert spread(levels_after(plain, [s.cents for s in strings], strings, 200.0)) > 15.0
    assert spread(levels_after(allowed[0], [s.cents for s in strings], strings, 200.0)) < 5.0
    assert allowed[0][0].to_cents > allowed[0][-1].to_cents
    assert max(t.to_cents for turns in allowed for t in turns) == 0.0


def spread(levels: list[float | None]) -> float:
    known = [c for c in levels if c is not None]
    return max(known) - min(known)
