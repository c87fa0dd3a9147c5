import random
from dataclasses import replace

import pytest

from analyzer.pass_limits import Standing, Turn, levels_after
from analyzer.response import Followed, measure, strings_to_leave, work_done


def strings(n: int, cents: float = -300.0) -> tuple[Standing, ...]:
    return tuple(Standing(string=str(i), cents=cents, weight=1 / n, turn_cents=150, turn_share=0.12) for i in range(n))


def followed(response: float, settling: float = 0.0, noise: float = 0.0, n: int = 30) -> Followed:
    """A pass made on a harp that gives way by exactly `response`, then left."""
    rng = random.Random(5)
    start = strings(n)
    turns = tuple(Turn(place=i, kind="raise", from_cents=-300.0, to_cents=-200.0) for i in range(n))
    now: list[float | None] = [s.cents for s in start]
    for turn in turns:
        now = levels_after([replace(turn, from_cents=now[turn.place])], now, start, response)
    return Followed(
        strings=start,
        turns=turns,
        now_cents=tuple(None if c is None else c - settling + rng.gauss(0, noise) for c in now),
        days=2,
    )


@pytest.mark.parametrize("response", [0.0, 90.0, 350.0])  # 10 to 38 % of each correction (technicians' list, 2006)
def test_the_response_put_in_is_found(response: float) -> None:
    found = measure([followed(response, settling=3.0)])
    assert found is not None
    assert found.cents == pytest.approx(response, rel=0.01, abs=0.5)
    assert found.settling_cents == pytest.approx(3.0, abs=0.1)
    assert found.cents_per_day == pytest.approx(1.5, abs=0.05)


def test_a_slipped_pin_and_noise_do_not_spoil_it_and_the_interval_says_how_sure_it_is() -> None:
    work = followed(150.0, noise=1.0)
    now = list(work.now_cents)
    now[4] = -420.0
    now[9] = None
    spoilt = Followed(strings=work.strings, turns=work.turns, now_cents=tuple(now), days=None)
    found = measure([spoilt])
    assert found is not None
    assert found.low_cents < 150.0 < found.high_cents
    assert found.cents == pytest.approx(150.0, rel=0.15)
    assert (found.cents_per_day, found.strings_n) == (None, 29)


@pytest.mark.parametrize("response", [0.0, 90.0, 350.0])
def test_the_strings_left_as_they_fall_show_the_response_and_the_others_the_settling(response: float) -> None:
    start = strings(30)
    first = tuple(Turn(place=i, kind="raise", from_cents=-300.0, to_cents=-200.0, end_cents=-200.0) for i in range(30))
    plan = (first, first, first)
    left = strings_to_leave(plan, start, bound_n=4, total_share=0.2)
    assert len(left) == 5
    done, set_right = work_done(plan, 1, left, 30)
    assert set(left) | set(set_right) == set(range(30))
    now: list[float | None] = [s.cents for s in start]
    for turn in done:
        now = levels_after([replace(turn, from_cents=now[turn.place])], now, start, response)
    rng = random.Random(3)
    later = tuple(None if c is None else c - 2.0 + rng.gauss(0.0, 0.3) for c in now)
    found = measure([Followed(strings=start, turns=done, now_cents=later, set_right=set_right, days=1)])
    assert found is not None
    assert found.cents == pytest.approx(response, rel=0.05, abs=15.0)
    assert found.settling_cents == pytest.approx(2.0, abs=0.5)


def test_no_string_is_left_where_there_is_no_room_for_it() -> None:
    start = strings(30)
    first = tuple(Turn(place=i, kind="raise", from_cents=-300.0, to_cents=-200.0, end_cents=-200.0) for i in range(30))
    assert strings_to_leave((first,), start, bound_n=1, total_share=0.2) == ()
    assert strings_to_leave((first, first), start, bound_n=3, total_share=0.08) == ()
    assert strings_to_leave((), start, bound_n=0, total_share=0.1) == ()


def test_too_little_says_nothing() -> None:
    assert measure([followed(150.0, n=3)]) is None
    still = Followed(strings=strings(20), turns=(), now_cents=(-300.0,) * 20, days=1)
    assert measure([still]) is None
