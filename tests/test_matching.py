"""Known harps are read right from simulated evidence (`tests.bench.invented`, whose laws the model does not share)."""

from dataclasses import replace

import numpy as np
import pytest

from analyzer.evidence import Evidence
from analyzer.matching import Known, likely_pitches, match
from analyzer.settings import MatchSettings
from tests.bench.invented import Grid, Invented, invent, targets_of, true_pitches

SETTINGS = MatchSettings()
TARGETS = targets_of("lever-34-C2-A6")
NAMES = [t.string for t in TARGETS]
NONE = len(TARGETS)


def heard(string: str, cents: float = 0.0, *, rivals=(-1200.0, 1200.0), below=(3.5, 7.0), odds=4.5, tone_db=-28.0):
    """Evidence of one pluck of a string this far off its target, with the usual octave rivals."""
    pitch_hz = TARGETS[NAMES.index(string)].target_hz * 2 ** (cents / 1200)
    return Evidence(
        pitches_hz=(pitch_hz, *(pitch_hz * 2 ** (r / 1200) for r in rivals)),
        log_likelihoods=(0.0, *(-b for b in below)),
        spread_cents=(3.0,) * (1 + len(rivals)),
        string_log_odds=odds,
        tap_log_odds=2.0 - odds,
        tones_db=(tone_db,) * (1 + len(rivals)),
    )


def row(strings, cents=-150.0, scatter=12.0, seed=3):
    """The strings in this order, slack alike but for a little scatter of their own, the same each time."""
    own = dict(zip(NAMES, cents + scatter * np.random.default_rng(seed).standard_normal(NONE), strict=True))
    return tuple(heard(s, own[s]) for s in strings)


def read(evidence, **known):
    return match(tuple(evidence), TARGETS, Known(**known), SETTINGS)


def names_of(matching):
    return [[*NAMES, None][k] for k in matching.probabilities.argmax(axis=1)]


def right(harp: Invented, **known) -> float:
    found = match(harp.evidence, harp.targets, Known(**known), SETTINGS).probabilities.argmax(axis=1)
    pairs = [(f, e.string) for f, e in zip(found, harp.events, strict=True) if e.string is not None]
    return float(np.mean([f == s for f, s in pairs]))


@pytest.mark.parametrize("slack_cents", [0.0, -200.0, -700.0])
@pytest.mark.parametrize("scatter_cents", [5.0, 20.0])
def test_told_what_is_missing_every_pluck_is_named(slack_cents, scatter_cents):
    grid = Grid(slack_cents=slack_cents, scatter_cents=scatter_cents, missing=5, octave_low=2, repeats=3, noise_db=50.0)
    for seed in (1, 2):
        harp = invent(grid, np.random.default_rng(seed), TARGETS)
        assert right(harp, missing=harp.missing) == 1.0


def test_missing_strings_are_found_where_neighbours_agree():
    there = [n for n in NAMES if n not in ("F3", "C5", "D5")]
    found = read(row(there, scatter=6.0))
    assert names_of(found) == there
    assert found.probabilities.max(axis=1).min() > 0.9


@pytest.mark.parametrize("order", ["up", "down"])
def test_direction_is_heard(order):
    strings = NAMES if order == "up" else NAMES[::-1]
    found = read(row(strings))
    assert (found.order, names_of(found)) == (order, strings)
    assert found.order_confidence > 0.999


def test_every_event_s_probabilities_sum_to_one_and_are_none_below_zero():
    harp = invent(
        Grid(slack_cents=-400, scatter_cents=60, missing=8, slips=3, repeats=5, knocks=2, phrases=1, noise_db=20),
        np.random.default_rng(4),
        TARGETS,
    )
    for known in (Known(), Known(missing=harp.missing), Known(order="any"), Known(whole=False)):
        found = match(harp.evidence, TARGETS, known, SETTINGS)
        assert found.probabilities.sum(axis=1) == pytest.approx(1.0)
        assert found.probabilities.min() >= 0.0
        assert np.all((found.repeated >= -1e-9) & (found.repeated + found.slipped <= 1 + 1e-9))


def test_leaving_out_what_is_negligible_changes_nothing():
    harp = invent(Grid(scatter_cents=40, missing=4, slips=2, repeats=2), np.random.default_rng(9), TARGETS)
    exact = replace(SETTINGS, negligible=1e-15, hopeless=200.0)
    whole = match(harp.evidence, TARGETS, Known(), exact).probabilities
    assert match(harp.evidence, TARGETS, Known(), SETTINGS).probabilities == pytest.approx(whole, abs=1e-4)


def test_a_string_plucked_twice_is_a_repeat():
    strings = [*NAMES[:12], NAMES[11], *NAMES[12:]]
    found = read(row(strings))
    assert names_of(found) == strings
    assert found.repeated[12] > 0.95


def test_a_fall_back_to_a_string_that_was_plucked_is_a_slip():
    strings = [*NAMES[:15], NAMES[12], *NAMES[15:]]
    found = read(row(strings), missing=frozenset())
    assert names_of(found) == strings
    assert found.slipped[15] > 0.95


@pytest.mark.parametrize("later", [1, 2, 3])
def test_a_string_passed_over_and_plucked_soon_after_is_found(later):
    strings = [n for n in NAMES if n != "C4"]
    strings.insert(NAMES.index("C4") + later, "C4")
    found = read(row(strings), missing=frozenset())
    assert names_of(found) == strings
    assert found.slipped[NAMES.index("C4") + later] > 0.9


def test_a_string_an_octave_low_keeps_its_name():
    evidence = list(row(NAMES))
    evidence[20] = heard(NAMES[20], -1350.0)
    assert names_of(read(evidence)) == NAMES


def test_knocks_and_syllables_between_are_no_strings():
    evidence = list(row(NAMES))
    for at, pitch in ((30, "B3"), (11, "E4"), (11, "D5")):
        evidence.insert(at, heard(pitch, 37.0, odds=-4.0))
    found = read(evidence)
    assert [k for k, name in enumerate(names_of(found)) if name is None] == [11, 12, 32]
    assert [n for n in names_of(found) if n] == NAMES


def test_a_string_told_to_be_missing_is_named_all_the_same_where_it_clearly_sounds():
    found = read(row(NAMES, scatter=3.0), missing=frozenset({"C4"}))
    assert names_of(found)[NAMES.index("C4")] == "C4"


def test_which_of_two_neighbours_was_skipped_is_left_open_when_pitch_cannot_say():
    # the deviation falls by a whole step between D4 and F4, and the one pluck there lies in the middle
    low = [n for n in NAMES if n not in ("D4", "E4")]
    evidence = [heard(n, 0.0 if NAMES.index(n) < NAMES.index("D4") else -100.0) for n in low]
    evidence.insert(NAMES.index("D4"), heard("D4", 0.0))
    found = read(evidence)
    of = dict(zip(NAMES, found.probabilities[NAMES.index("D4")], strict=False))
    assert of["D4"] > 0.05
    assert of["E4"] > 0.05
    told = read(evidence, missing=frozenset({"E4"}))
    assert told.probabilities[NAMES.index("D4"), NAMES.index("D4")] > 0.99


def test_taps_in_the_row_settle_which_neighbour_is_missing():
    """A row from which one of two neighbours is missing, the other between both: the knock says which."""
    evidence = [heard(n, 0.0 if NAMES.index(n) < NAMES.index("D4") else -100.0) for n in NAMES if n not in ("D4", "E4")]
    pluck, knock, at = heard("D4", 0.0), heard("B3", 44.0, odds=-5.0), NAMES.index("D4")
    for elsewhere in (NAMES.index("A2"), NAMES.index("C6") - 2):
        evidence[elsewhere] = knock

    def chances(*sounds):
        found = read([*evidence[:at], *sounds, *evidence[at:]]).probabilities[at + sounds.index(pluck)]
        return found[NAMES.index("D4")], found[NAMES.index("E4")]

    assert max(chances(pluck)) < 0.6
    assert chances(pluck, knock)[0] > 0.95
    assert chances(knock, pluck)[1] > 0.95


def test_taps_are_no_strings_and_say_which_are_missing():
    missing = ("E2", "G4", "C6")
    found = read([heard("B3", 44.0, odds=-5.0) if n in missing else heard(n, -40.0) for n in NAMES])
    assert names_of(found) == [None if n in missing else n for n in NAMES]
    for n in missing:
        assert found.tapped[NAMES.index(n), NAMES.index(n)] > 0.5


def test_knocks_that_stand_for_no_string_are_none_s_taps():
    evidence = list(row(NAMES))
    for at in (5, 12, 20):
        evidence.insert(at, heard("B3", 44.0, odds=-5.0))
    found = read(evidence)
    assert found.tapped.max() < 0.05
    assert [n for n in names_of(found) if n] == NAMES


def test_without_order_pitch_alone_decides_and_is_less_sure():
    strings = [NAMES[k] for k in np.random.default_rng(1).permutation(len(NAMES))]
    loose = read(row(strings, cents=-10.0, scatter=20.0), order="any")
    assert names_of(loose) == strings
    assert loose.order == "any"
    strict = read(row(NAMES, cents=-10.0, scatter=20.0))
    free = read(row(NAMES, cents=-10.0, scatter=20.0), order="any")
    assert free.probabilities.max(axis=1).mean() < strict.probabilities.max(axis=1).mean()


def test_a_part_of_the_harp_begins_and_ends_anywhere():
    part = NAMES[9:21]
    assert names_of(read(row(part, cents=-30.0), whole=False)) == part


def test_first_and_last_string_settle_how_slack_the_harp_is():
    # twelve strings a whole tone flat, or those one step lower in tune: only the person can say
    part = NAMES[9:21]
    evidence = row(part, cents=-200.0, scatter=25.0)
    assert names_of(read(evidence, first=part[0], whole=False)) == part
    assert names_of(read(evidence, last=part[-1], whole=False)) == part


def test_a_correction_holds_and_moves_its_neighbours():
    evidence = row(NAMES[9:21], cents=-200.0, scatter=25.0)
    # where the sound leaves the whole row open, one name settles all of it
    for said in (NAMES[15], NAMES[14]):
        found = read(evidence, named={6: said}, whole=False)
        start = NAMES.index(said) - 6
        assert names_of(found) == NAMES[start : start + 12]
        assert found.probabilities[6, NAMES.index(said)] == pytest.approx(1.0)
        assert found.misfits == ()


def test_a_correction_that_cannot_be_is_kept_and_reported():
    found = read(row(NAMES), named={10: "A6"})
    assert names_of(found)[10] == "A6"
    assert found.misfits == (10,)
    assert names_of(found)[11:] == NAMES[11:]


def test_an_ignored_event_is_no_string():
    evidence = list(row(NAMES))
    evidence.insert(10, heard("G5", 0.0))
    found = read(evidence, ignored=frozenset({10}))
    assert found.probabilities[10, NONE] == pytest.approx(1.0)
    assert [n for n in names_of(found) if n] == NAMES


def test_a_wrong_word_on_direction_is_found_out():
    found = read(row(NAMES[::-1]), order="up")
    assert found.order == "down"
    assert names_of(found) == NAMES[::-1]


def test_poorer_evidence_makes_the_reading_less_sure():
    harp = invent(Grid(scatter_cents=35, missing=4), np.random.default_rng(8), TARGETS)
    clear, events = true_pitches(harp), range(len(harp.events))
    unsure = [e if k % 3 else replace(e, pitches_hz=(), log_likelihoods=(), spread_cents=(), tones_db=())
              for k, e in zip(events, clear, strict=True)]  # fmt: skip

    def mean_sureness(evidence):
        return match(tuple(evidence), TARGETS, Known(), SETTINGS).probabilities.max(axis=1).mean()

    assert mean_sureness(unsure) < mean_sureness(clear) - 0.02


def test_two_readings_of_the_same_sound_are_less_sure_than_one():
    one = read(row(NAMES))
    evidence = list(row(NAMES))
    evidence[12] = heard(NAMES[12], 0.0, rivals=(205.0,), below=(0.0,))
    assert read(evidence).probabilities[12].max() < one.probabilities[12].max()


def test_nothing_heard_and_nothing_but_noise():
    assert read(()).probabilities.shape == (0, NONE + 1)
    knocks = [heard(n, 0.0, odds=-6.0) for n in ("C4", "A5", "D3", "F4")]
    assert names_of(read(knocks)) == [None] * 4


def test_likely_pitches_allow_an_octave_low_but_none_high():
    evidence = heard("C4", -160.0, below=(0.0, 0.0))
    hz, chance = zip(*likely_pitches(evidence, 261.63, -150.0, SETTINGS), strict=True)
    assert sum(chance) == pytest.approx(1.0)
    assert 1200 * np.log2(hz[0] / 261.63) == pytest.approx(-160.0, abs=1.0)
    high = chance[hz.index(max(hz))]
    low = chance[hz.index(min(hz))]
    assert high < 1e-6 < low < 0.2


def test_confidence_is_what_it_says_over_many_harps():
    pairs = []
    for seed in range(8):
        grid = Grid(
            layout="lever-27-C3-A6", slack_cents=-100.0 * (seed % 4), scatter_cents=15.0 * (seed % 4), missing=seed % 5
        )
        harp = invent(grid, np.random.default_rng(seed))
        found = match(harp.evidence, harp.targets, Known(), SETTINGS).probabilities
        truth = [len(harp.targets) if e.string is None else e.string for e in harp.events]
        pairs += list(zip(found.max(axis=1), found.argmax(axis=1) == truth, strict=True))
    confidence, is_right = np.array(pairs, dtype=float).T
    assert is_right.mean() == pytest.approx(confidence.mean(), abs=0.03)
