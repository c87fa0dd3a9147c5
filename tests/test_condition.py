"""Dull strings stand out of this harp's own surface; soft plucks and sections do not."""

from dataclasses import replace

import numpy as np
import pytest

from analyzer import condition
from analyzer.brightness import brightness_db
from analyzer.condition import Heard, judge
from analyzer.decay import Decay, PartialDecay
from analyzer.settings import ConditionSettings

SETTINGS = ConditionSettings()


def partial(number, f_hz, t60_s, level_db=-30.0, range_db=30.0):
    return PartialDecay(
        number=number,
        frequency_hz=f_hz,
        t60_s=t60_s,
        t60_log_deviation=0.1,
        late_t60_s=None,
        level_db=level_db,
        range_db=range_db,
    )


def decay(partials):
    t60_s = partials[0].t60_s if partials else None
    return Decay(
        decay_s=t60_s,
        decay_u95_s=None if t60_s is None else 0.05 * t60_s,
        cut=False,
        partials=tuple(partials),
        curve_db=(),
        level_db=-20.0,
        reason="" if partials else "it hardly stands out of the noise",
    )


def harp(rng, damping, strings=34, step=1.0, scatter=0.3, step_at=11):
    """Strings a whole tone apart whose partials' T60 scatter as two real harps' do (0.31 to 0.33)."""
    out = []
    for k in range(strings):
        f1_hz = 65.4 * 2 ** (k / 6)
        own = damping.get(k, 1.0) * (step if k < step_at else 1.0) * np.exp(rng.normal(0, 0.08))
        partials = [
            partial(n, n * f1_hz, 7 * (n * f1_hz / 65.4) ** -0.6 / own * np.exp(rng.normal(0, scatter)))
            for n in range(1, 13)
            if n * f1_hz < 9000
        ]
        out.append(Heard(place=k, section="wire" if k < step_at else "nylon", decay=decay(partials)))
    return tuple(out)


def called(judged):
    return {k for k, c in enumerate(judged) if c.dull_probability is not None and c.dull_probability >= 0.5}


@pytest.mark.parametrize(("dull_n", "least_share"), [(4, 0.9), (14, 0.65)])
def test_twice_the_damping_is_found_and_little_else(dull_n, least_share):
    """Also of two strings in five: they must not widen the scatter, nor bend the curve, they are judged by."""
    rng = np.random.default_rng(1)
    hits = false = 0
    for _ in range(10):
        dull = set(rng.choice(34, dull_n, replace=False).tolist())
        found = called(judge(harp(rng, dict.fromkeys(dull, 2.0)), SETTINGS))
        hits += len(found & dull)
        false += len(found - dull)
    assert hits >= least_share * 10 * dull_n
    assert false <= 4


def test_of_the_two_solutions_that_is_kept_that_explains_the_strings_better(monkeypatch):
    found = []

    def begun(*given):
        found.append(real(*given))
        return found[-1]

    real = condition._begun
    monkeypatch.setattr(condition, "_begun", begun)
    rng = np.random.default_rng(8)
    kept = set()
    for _ in range(3):
        dull = dict.fromkeys(rng.choice(34, 14, replace=False).tolist(), 2.0)
        said = [c.dull_probability for c in judge(harp(rng, dull), SETTINGS)]
        better = int(found[-1].log_likelihood > found[-2].log_likelihood)
        assert said == found[better - 2].dull.tolist()
        kept.add(better)
    assert kept == {0, 1}


def test_how_sound_strings_scatter_is_told_in_spite_of_many_dull_ones():
    """Of standard normal scores, a third of them 3 more: less than all together tell, and near 1."""
    rng = np.random.default_rng(4)
    score = rng.normal(0, 1, 3000)
    assert condition._off(score, np.zeros(3000)) == pytest.approx(1.0, abs=0.05)
    score[::3] += 3.0
    every = condition.NORMAL_MAD * float(np.median(np.abs(score)))
    assert condition._off(score, np.zeros(3000)) < 0.85 * every


@pytest.mark.parametrize("step", [1.5, 1 / 1.5])
def test_a_break_between_sections_is_no_fault(step):
    rng = np.random.default_rng(2)
    for _ in range(4):
        assert len(called(judge(harp(rng, {}, step=step), SETTINGS))) <= 1


def test_a_section_named_wrongly_costs_little():
    missed = more = 0
    for seed in range(3, 13):
        strings = harp(np.random.default_rng(seed), {20: 2.5})
        wrong = tuple(replace(h, section="gut" if h.place in (15, 16) else h.section) for h in strings)
        found = called(judge(wrong, SETTINGS))
        missed += 20 not in found
        more += len(found) - len(called(judge(strings, SETTINGS)))
    assert missed == 0
    assert more <= 5  # of 340


def test_departures_are_the_damping_and_their_intervals_hold_it():
    rng = np.random.default_rng(4)
    inside = []
    for _ in range(5):
        for k, judged in enumerate(judge(harp(rng, {17: 2.0}), SETTINGS)):
            inside.append(abs(judged.departure - (np.log(2) if k == 17 else 0.0)) < judged.departure_u95)
    assert 0.88 <= np.mean(inside) < 1.0


def test_the_curve_leads_one_to_expect_what_the_others_do():
    judged = judge(harp(np.random.default_rng(4), {17: 2.0}), SETTINGS)[17]
    assert judged.expected_decay_s == pytest.approx(7 * 2 ** (17 / 6 * -0.6), rel=0.35)


def test_a_second_pluck_that_agrees_makes_it_surer():
    strings = harp(np.random.default_rng(5), {12: 1.6})
    loose = replace(
        strings[12].decay, partials=tuple(replace(p, t60_log_deviation=0.5) for p in strings[12].decay.partials)
    )
    once = (*strings[:12], replace(strings[12], decay=loose), *strings[13:])
    twice = (*strings[:12], replace(strings[12], decay=loose, repeats=(loose,)), *strings[13:])
    assert judge(twice, SETTINGS)[12].departure_u95 < judge(once, SETTINGS)[12].departure_u95


def plucked_otherwise(strings, change_db):
    def heard(h):
        partials = tuple(replace(p, level_db=p.level_db + change_db(p.number)) for p in h.decay.partials)
        return replace(h, decay=replace(h.decay, partials=partials))

    return tuple(map(heard, strings))


def test_loudness_changes_nothing():
    strings = harp(np.random.default_rng(7), {20: 2.0})
    softer = judge(plucked_otherwise(strings, lambda number: -10.0), SETTINGS)
    plain = judge(strings, SETTINGS)
    assert [c.dull_probability for c in softer] == pytest.approx([c.dull_probability for c in plain], abs=1e-9)
    assert [c.departure for c in softer] == pytest.approx([c.departure for c in plain], abs=1e-9)


def test_a_softer_finger_and_another_plucking_point_make_no_string_dull():
    """Levels say only which partials carry the sound: 12 dB less at the twelfth partial, and an ideal string's comb."""
    strings = harp(np.random.default_rng(7), {20: 2.0})
    for change_db in (lambda n: -1.0 * n, lambda n: 20 * np.log10(max(abs(np.sin(n * np.pi * 0.27)), 0.1))):
        otherwise = judge(plucked_otherwise(strings, change_db), SETTINGS)
        assert called(otherwise) == {20}
        for a, b in zip(otherwise, judge(strings, SETTINGS), strict=True):
            assert a.departure == pytest.approx(b.departure, abs=0.1)


def test_what_cannot_be_judged_says_why():
    strings = list(harp(np.random.default_rng(8), {}))
    strings[9] = replace(strings[9], decay=decay([]))
    judged = judge(tuple(strings), SETTINGS)[9]
    assert judged.dull_probability is None
    assert judged.reason == "it hardly stands out of the noise"
    assert all(c.dull_probability is None and "fewer than" in c.reason for c in judge(tuple(strings[:5]), SETTINGS))


def test_brightness_does_not_depend_on_where_a_string_was_plucked():
    """Partials start as sin(n·π·β)/n, an ideal string's comb: β = 1/3 and 1/5 leave out partials 3, 6 and 5, 10."""
    number = np.arange(1, 13)
    read = []
    for place in (1 / 3, 0.2, 0.27, 0.45):
        comb = np.maximum(np.abs(np.sin(np.pi * number * place)), 10 ** (-15 / 20))
        level_db = 20 * np.log10(comb) - 6 * np.log2(number)
        read.append(
            brightness_db([partial(int(n), 100.0 * n, 1.0, v) for n, v in zip(number, level_db, strict=True)], SETTINGS)
        )
    assert np.ptp(read) < 1.0
    assert brightness_db([partial(1, 100.0, 1.0)], SETTINGS) is None
