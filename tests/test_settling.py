"""Settling against harps that creep by stated laws; `bench/settling` has the shares over many harps."""

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from analyzer.creep import DAYS as DAYS_OF_LAW
from analyzer.creep import any_law, law_constants
from analyzer.forecast import likeliest
from analyzer.settings import SettlingSettings
from analyzer.settling import fit
from analyzer.timeline import course, readings
from analyzer.tunings import Readings
from tests.survey_moves import moved, plain

QUICK = SettlingSettings(particles_n=64, moves_n=1, last_moves_n=4, draws_each_n=4)
"""Coarser sampling, for tests that are not about the law."""
DAYS = np.array([0.0, 1.0, 3.0, 6.0, 10.0, 17.0, 25.0])


def law_values(law, days, tau):
    return np.log1p(days / tau) if law == "logarithmic" else -np.expm1(-days / tau)


def harp(law, tau, *, strings_n=20, seed=1, noise=0.5, days=DAYS):
    """Readings that follow the law; each string drifts by its own amount."""
    rng = np.random.default_rng(seed)
    total = 15.0 + 5.0 * rng.random(strings_n)
    shape = law_values(law, days, tau)
    cents = -total[:, None] * shape / shape[-1] + rng.normal(0, noise, (strings_n, len(days)))
    return total, Readings(
        strings=tuple(f"S{i}" for i in range(strings_n)),
        days=days,
        cents=cents,
        u95_cents=np.full(cents.shape, 1.96 * noise),
        common_u95_cents=np.full(len(days), 0.3),
    )


def true_day(law, tau, total):
    """From the formulas of the laws: the first day from which a week moves the string by 5 cents or less."""
    if law == "logarithmic":
        k = total / math.log1p(DAYS[-1] / tau)
        return 7 / math.expm1(5 / k) - tau
    k = total / -math.expm1(-DAYS[-1] / tau)
    return tau * math.log(k * -math.expm1(-7 / tau) / 5)


@pytest.mark.parametrize(("law", "tau"), [("logarithmic", 0.5), ("exponential", 4.0)])
def test_the_law_the_drifts_and_the_settled_day_are_found(law, tau):
    total, data = harp(law, tau)
    found = fit(data)
    assert found.law == law
    drifts = np.array([s.drift_cents for s in found.strings])
    assert np.max(np.abs(drifts + total)) < 1.5  # three standard deviations of the noise
    day = true_day(law, tau, total.max())
    assert abs(found.settled_day - day) < 2
    assert found.settled_day_low <= day <= found.settled_day_high


@pytest.mark.parametrize(
    ("coordinates", "expected"),
    [
        ((0.9, 0.5, 0.9, 0.0, 0.0), lambda t, tau: np.log1p(t / tau)),  # exponent 1, no end
        ((0.475, 0.5, 0.9, 0.0, 0.0), lambda t, tau: np.sqrt(1 + t / tau) - 1),  # exponent 1/2, no end
    ],
)
def test_the_family_of_laws_has_the_logarithm_and_powers_in_it(coordinates, expected):
    settings = SettlingSettings()
    z = np.array([coordinates])
    tau = law_constants(z, settings)[1][0]
    found = any_law(settings).falls(z)[0]
    wanted = expected(DAYS_OF_LAW, tau)
    some = slice(40, 140)
    assert found[some] / found[140] == pytest.approx(wanted[some] / wanted[140], rel=0.01)


def test_the_family_of_laws_has_the_exponential_in_it():
    settings = SettlingSettings()
    z = np.array([[0.0, 0.5, 0.25, 0.0, 0.0]])
    end = law_constants(z, settings)[2][0]
    found = any_law(settings).falls(z)[0]
    wanted = -np.expm1(-DAYS_OF_LAW / end)
    assert found / found[-1] == pytest.approx(wanted / wanted[-1], abs=0.005)


def test_a_string_that_keeps_falling_is_named_and_does_not_delay_the_others():
    total, data = harp("exponential", 4.0)
    cents = data.cents.copy()
    cents[7] -= 1.5 * DAYS
    found = fit(replace(data, cents=cents), QUICK)
    assert [s.string for s in found.strings if s.slipping] == ["S7"]
    assert found.strings[7].slip_cents_per_day == pytest.approx(-1.5, abs=0.4)
    assert abs(found.settled_day - true_day("exponential", 4.0, np.delete(total, 7).max())) < 2


@pytest.mark.parametrize("law", ["logarithmic", "exponential"])
def test_two_slips_that_begin_late_are_both_named_and_a_new_string_is_not(law):
    total, data = harp(law, 3.0, seed=4)
    cents = data.cents.copy()
    for slipping in (3, 12):
        cents[slipping] -= 1.2 * np.maximum(DAYS - 3.0, 0.0)
    shape = law_values(law, DAYS, 3.0)
    cents[8] -= 1.5 * total[8] * shape / shape[-1]  # newly fitted: it creeps 2.5 times as much
    found = fit(replace(data, cents=cents), QUICK)
    assert [s.string for s in found.strings if s.slipping] == ["S3", "S12"]


def test_a_retuning_nobody_stated_is_found_and_the_creep_goes_on_through_it():
    total, data = harp("logarithmic", 0.5)
    cents = data.cents.copy()
    cents[:, 3:] += 12.0
    cents[4, 5:] += 9.0  # one string again, alone
    found = fit(replace(data, cents=cents), QUICK)
    assert found.retuned_surveys == (3,)
    assert found.strings[4].retuned == (3, 5)
    drifts = np.array([s.drift_cents for s in found.strings])
    assert np.max(np.abs(drifts + total)) < 3


def test_a_stated_retuning_leaves_the_strings_at_their_notes():
    total, data = harp("logarithmic", 0.5)
    cents = data.cents.copy()
    shape = law_values("logarithmic", np.array([8.0, 10.0]), 0.5) / law_values("logarithmic", DAYS[-1:], 0.5)
    cents[:, 4:] += (-cents[:, 4] - total * (shape[1] - shape[0]))[:, None]
    found = fit(replace(data, cents=cents, retuned_days=(8.0,)), QUICK)
    assert found.retuned_surveys == (4,)
    assert np.max(np.abs(np.array([s.drift_cents for s in found.strings]) + total)) < 3


def test_readings_that_are_missing_do_no_harm():
    total, data = harp("logarithmic", 0.5)
    cents = data.cents.copy()
    cents[0, 1:] = np.nan
    cents[1, 2] = np.nan
    found = fit(replace(data, cents=cents), QUICK)
    assert found.strings[0].drift_cents is None
    assert found.strings[1].drift_cents == pytest.approx(-total[1], abs=1.5)


def test_a_harp_that_never_settles_has_no_day():
    days = np.arange(0.0, 70.0, 10.0)
    cents = np.outer(-np.linspace(8.0, 12.0, 20), days)
    _, data = harp("logarithmic", 0.5)
    found = fit(replace(data, days=days, cents=cents + np.random.default_rng(2).normal(0, 0.5, cents.shape)), QUICK)
    assert found.settled_day is None
    assert found.settled_day_high is None


def test_the_same_readings_give_the_same_figures():
    _, data = harp("logarithmic", 0.5)
    assert fit(data, QUICK) == fit(data, QUICK)


def test_the_likeliest_day_is_where_draws_crowd_and_not_their_median():
    rng = np.random.default_rng(1)
    days = np.concatenate([rng.normal(12.0, 1.0, 450), rng.uniform(15.0, 170.0, 550)])
    assert np.median(days) > 20
    assert likeliest(days, SettlingSettings()) == pytest.approx(12.0, abs=0.5)
    assert likeliest(np.full(50, 3.2), SettlingSettings()) == pytest.approx(3.2)
    # past the horizon where that is likelier than any one day
    assert likeliest(np.concatenate([rng.uniform(0, 170, 600), np.full(400, 360.0)]), SettlingSettings()) > 180


def test_two_surveys_make_no_curve():
    _, data = harp("logarithmic", 0.5)
    with pytest.raises(ValueError, match="3 surveys"):
        fit(replace(data, days=DAYS[:2], cents=data.cents[:, :2]))


# --- from surveys


def surveys(days=(0, 2, 5, 9, 16, 24), said=(), before=()):
    rng = np.random.default_rng(5)
    made = [
        moved(
            plain(),
            lambda i, row, d=d: (
                -6.0 * math.log1p(d / 0.5) - (1.8 * d if row.string == "G4" else 0.0) + rng.normal(0, 0.4)
            ),
            date=date(2026, 3, 1 + d).isoformat(),
            said=dict(said[k]) if k < len(said) else {},
        )
        for k, d in enumerate(days)
    ]
    return [*before, *made]


def test_a_harp_brought_up_counts_its_days_from_then():
    before = moved(plain(), lambda i, row: -180.0, date="2026-02-01")
    way = course(surveys(before=(before,)), settings=QUICK)
    assert way.first == 1
    assert way.first_date == "2026-03-01"
    assert way.slipping == ("G4",)
    assert way.settled_date > "2026-03-01"
    assert any("G4 keeps falling" in sentence for sentence in way.sentences)


def test_a_retuning_that_was_not_stated_is_said_and_one_that_was_is_not():
    rng = np.random.default_rng(8)
    some = surveys()
    left = rng.normal(0, 1.0, len(plain().strings))
    since = [-6.0 * (math.log1p(d / 0.5) - math.log1p(5 / 0.5)) for d in (9, 16, 24)]
    for k, fall in enumerate(since):
        some[3 + k] = moved(
            plain(),
            lambda i, row, fall=fall: left[i] + fall * (0.7 + 0.03 * i % 0.6) + rng.normal(0, 0.4),
            date=some[3 + k].date,
        )
    sentence = "Between 2026-03-06 and 2026-03-10 the whole harp seems to have been retuned"
    assert any(s.startswith(sentence) for s in course(some, settings=QUICK).sentences)
    stated = course(some, [date(2026, 3, 6)], settings=QUICK)
    assert stated.settling.retuned_surveys == (3,)
    assert not any("seems to have been retuned" in s for s in stated.sentences)


def test_until_there_are_data_common_practice_is_named_as_such():
    assert course(surveys()[:2]) is None
    before = moved(plain(), lambda i, row: -180.0, date="2026-02-01")
    way = course(surveys(days=(0, 2), before=(before,)))
    assert way.settling is None
    assert way.tune_every_days is None
    assert "common practice, no source" in way.sentences[-1]


def test_surveys_without_a_date_make_no_course():
    assert course([replace(s, date="") for s in surveys()]) is None


def test_an_uncertain_string_gives_no_reading():
    some = surveys()
    rows = tuple(replace(r, status="uncertain") if r.string == "C4" else r for r in some[2].strings)
    some[2] = replace(some[2], strings=rows)
    data = readings(some)
    place = data.strings.index("C4")
    assert np.isnan(data.cents[place]).tolist() == [False, False, True, False, False, False]


def test_humidity_is_regressed_from_six_surveys_on():
    humidity = (40, 55, 45, 60, 42, 52)
    said = [{"humidity": f"{h} %"} for h in humidity]
    some = surveys(said=said)
    shifted = [moved(s, lambda i, row, h=h: row.cents - 0.4 * (h - 49)) for s, h in zip(some, humidity, strict=True)]
    weather = {w.name: w for w in course(shifted, settings=QUICK).weather}
    assert weather["humidity"].values == humidity
    # the fit shares some of the weather out to creep; the interval is to hold the truth
    assert abs(weather["humidity"].cents_per_unit + 0.4) <= weather["humidity"].u95 + 0.1
    assert weather["temperature"].cents_per_unit is None
    assert {w.cents_per_unit for w in course(shifted[:5], settings=QUICK).weather} == {None}
