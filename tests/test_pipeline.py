"""The main job on whole recordings with known truth, in process.

The truths come from `tests.synth` and `tests.synth_harp` (physics that the program does not share) and from a concert
harp's openly licensed notes (`tests.harp_notes`, CC BY 3.0).
"""

import functools
import json

import numpy as np
import pytest
import soundfile

from analyzer.digest import digest
from analyzer.errors import TooLittleHarp, UnusableInput
from analyzer.hearing import hear
from analyzer.layout import load_layout
from analyzer.pipeline import analyze
from analyzer.request import Request
from analyzer.settings import ReportSettings, Settings
from analyzer.survey import read_survey, to_json
from analyzer.tuning import make_tuning
from tests.harp_notes import assemble, notes_or_skip
from tests.synth_harp import HarpSpec, harp_recording, harp_strings
from tests.synth_sounds import expanded, speech


def surveyed(samples, rate_hz, folder, *, layout="lever-34", key="E-flat", **request):
    path = folder / "recording.wav"
    soundfile.write(path, samples, rate_hz, subtype="PCM_16")
    harp = load_layout(layout)
    return analyze(
        Request(recordings=(path,), layout=harp, tuning=make_tuning(harp, key, levers=None), **request), Settings()
    )


def named_right(survey, truths):
    """Share of true plucks that have the right string within 0.1 s, and strings given to no true pluck."""
    named = [(p.onset_s, p.string) for p in survey.plucks if p.string is not None]
    right = 0
    for truth in truths:
        near = min(named, key=lambda n: abs(n[0] - truth.onset_s), default=(1e9, None))
        right += near[1] == truth.string and abs(near[0] - truth.onset_s) < 0.1
    spurious = [n for n in named if all(abs(n[0] - t.onset_s) > 0.1 for t in truths)]
    return right / len(truths), spurious


SLACK = HarpSpec(
    strings=harp_strings("C2", "A6", flats="BEA"),
    slack_cents=-220.0,
    drift_cents=80.0,
    scatter_cents=25.0,
    missing=("F3", "C5"),
    octave_low=("G4",),
    dull={"D4": 3.0, "A5": 3.0},
    false={"D3": 1.4, "A4": 2.3},
    repeats=1,
    slips=1,
    knocks=1,
    speech=1,
    gap_s=(2.4, 3.0),
    rate_hz=22050,
)


@pytest.fixture(scope="module")
def slack(tmp_path_factory):
    take = harp_recording(SLACK, np.random.default_rng(5))
    folder = tmp_path_factory.mktemp("slack")
    survey = surveyed(take.samples, take.rate_hz, folder, missing=frozenset(SLACK.missing))
    return take, survey


def counted(take):
    """The last pluck of each string, which is the one that counts."""
    return {t.string: t for t in take.plucks if t.kind != "double"}


def test_every_pluck_of_a_slack_harp_is_named(slack):
    take, survey = slack
    share, spurious = named_right(survey, [t for t in take.plucks if t.kind != "double"])
    assert share == 1.0
    assert spurious == []


def test_missing_strings_are_not_heard_and_all_others_are(slack):
    _, survey = slack
    assert {r.string for r in survey.strings if r.status == "not heard"} == set(SLACK.missing)


def test_cents_agree_with_the_truth_and_an_octave_low_is_told(slack):
    take, survey = slack
    rows = {r.string: r for r in survey.strings}
    errors = {s: abs(rows[s].cents - t.cents) for s, t in counted(take).items()}
    assert max(errors.values()) < 12
    assert np.median(list(errors.values())) < 0.5
    assert rows["G4"].cents < -1200
    assert rows["G4"].verdict == "check by hand"


def test_strings_of_three_times_the_damping_are_dull_and_few_others(slack):
    _, survey = slack
    dull = {r.string for r in survey.strings if r.dull}
    assert set(SLACK.dull) <= dull
    assert len(dull - set(SLACK.dull)) <= 1


def test_strings_that_beat_are_false_and_their_rates_are_told_within_a_twentieth_of_a_hertz(slack):
    take, survey = slack
    rows = {r.string: r for r in survey.strings}
    assert {r.string for r in survey.strings if r.verdict == "false"} == set(SLACK.false)
    for string in SLACK.false:
        beats = {p.number: p for p in rows[string].partials if p.beat_hz is not None}
        assert {1, 2} <= set(beats)
        for truth in counted(take)[string].note.partials:
            if truth.number in beats:
                assert beats[truth.number].beat_hz == pytest.approx(truth.split_hz, abs=0.05)
        assert np.median([p.beat_db for p in beats.values()]) == pytest.approx(-4.0, abs=2.0)
    beaten = [(sum(p.beat_hz is not None for p in r.partials), r.beats_n) for r in survey.strings if r.partials]
    assert all(shown_n <= (n or 0) for shown_n, n in beaten)
    assert any(n == 0 for _, n in beaten)


def test_decay_is_near_the_truth(slack):
    take, survey = slack
    rows = {r.string: r for r in survey.strings}
    ratios = [abs(rows[s].decay_s / t.note.decay_s - 1) for s, t in counted(take).items() if rows[s].decay_s]
    assert len(ratios) > 25
    assert np.median(ratios) < 0.1


def test_after_sounds_are_kept_apart_and_are_slower(slack):
    _, survey = slack
    partials = [p for row in survey.strings for p in row.partials]
    late = [p for p in partials if p.late_t60_s is not None]
    assert 0 < len(late) < 0.5 * len(partials)
    assert all(p.late_t60_s > p.t60_s for p in late)


def test_the_table_is_consistent(slack):
    _, survey = slack
    for row in survey.strings:
        count = sum(p.counted and p.string == row.string for p in survey.plucks)
        assert count == (0 if row.status == "not heard" else 1)
        if row.status == "not heard":
            assert (row.cents, row.decay_s, row.onset_s, row.dull, row.match_confidence) == (None,) * 5
    assert [p.onset_s for p in survey.plucks] == sorted(p.onset_s for p in survey.plucks)
    assert all(p.reason for p in survey.plucks if not p.counted)


def test_the_file_gives_back_the_same_survey(slack, tmp_path):
    _, survey = slack
    (tmp_path / "survey.json").write_bytes(to_json(survey))
    assert read_survey(tmp_path) == survey
    assert to_json(read_survey(tmp_path)) == to_json(survey)


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("tuning", "targets", 3, "target_hz"), 1e-12),
        (("strings", 3, "decay_s"), 1e-200),
        (("strings", 3, "cents_u95"), 1e-320),
        (("strings", 3, "pitch_hz"), 1e300),
    ],
)
def test_a_number_that_nothing_measures_is_no_survey(slack, tmp_path, place, value):
    """Found by damaging surveys at random (`tests.fuzz`): each of these ended a command with a traceback."""
    data = json.loads(to_json(slack[1]))
    *path, last = place
    functools.reduce(lambda inner, key: inner[key], path, data)[last] = value
    (tmp_path / "survey.json").write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(UnusableInput, match="it was changed since analyze wrote it"):
        read_survey(tmp_path)


def test_order_is_found_downwards_too(tmp_path):
    spec = HarpSpec(strings=harp_strings("C2", "A6", flats="BEA"), order="down", gap_s=(1.4, 1.8), rate_hz=22050)
    take = harp_recording(spec, np.random.default_rng(2))
    survey = surveyed(take.samples, take.rate_hz, tmp_path)
    assert survey.order == "down"
    assert named_right(survey, take.plucks)[0] == 1.0


def test_a_part_of_the_harp_joined_with_the_other(tmp_path):
    strings = harp_strings("C2", "A6", flats="BEA")
    paths = []
    for part, rows in enumerate((strings[:16], strings[16:])):
        take = harp_recording(HarpSpec(strings=rows, gap_s=(1.4, 1.8), rate_hz=22050), np.random.default_rng(part))
        paths.append(tmp_path / f"{part}.wav")
        soundfile.write(paths[-1], take.samples, take.rate_hz)
    harp = load_layout("lever-34")
    survey = analyze(Request(recordings=tuple(paths), layout=harp, tuning=make_tuning(harp, "E-flat")), Settings())
    assert all(r.status == "heard" for r in survey.strings)
    assert {r.recording for r in survey.strings} == {0, 1}


def test_a_correction_is_honoured(slack, tmp_path):
    take, _ = slack
    wrong = next(t for t in take.plucks if t.string == "E4")
    again = surveyed(
        take.samples,
        take.rate_hz,
        tmp_path,
        missing=frozenset(SLACK.missing),
        named=((wrong.onset_s, "F4"),),
        ignored=(next(t for t in take.plucks if t.string == "A6").onset_s,),
    )
    at = {round(p.onset_s, 2): p for p in again.plucks}
    assert next(p for t, p in at.items() if abs(t - wrong.onset_s) < 0.05).string == "F4"
    assert next(r for r in again.strings if r.string == "A6").status == "not heard"


def test_an_order_that_contradicts_the_sound_is_reported(slack, tmp_path):
    take, _ = slack
    said = surveyed(take.samples, take.rate_hz, tmp_path, missing=frozenset(SLACK.missing), order="down")
    assert any("another order" in r for r in said.remarks)


@pytest.mark.parametrize("seed", [1, 2])
def test_speech_alone_is_too_little_of_a_harp(tmp_path, seed):
    rng = np.random.default_rng(seed)
    words = np.concatenate([speech(2.0, 22050, rng) for _ in range(8)])
    with pytest.raises(TooLittleHarp, match="record again"):
        surveyed(0.2 * words / np.abs(words).max(), 22050, tmp_path)


def test_three_plucks_are_too_little_of_a_harp_unless_the_person_says_which(tmp_path):
    spec = HarpSpec(strings=harp_strings("C4", "E4"), rate_hz=22050)
    take = harp_recording(spec, np.random.default_rng(0))
    with pytest.raises(TooLittleHarp, match="record again"):
        surveyed(take.samples, take.rate_hz, tmp_path)
    again = surveyed(take.samples, take.rate_hz, tmp_path, first="C4", last="E4")
    assert [row.string for row in again.strings if row.status != "not heard"] == ["C4", "D4", "E4"]


def test_strings_recorded_again_from_all_over_the_harp_are_told_apart_where_they_are_named(tmp_path):
    two = tuple(string for string in harp_strings("C2", "A6", flats="BEA") if string[0] in ("C5", "G6"))
    take = harp_recording(HarpSpec(strings=two, slack_cents=-220.0, order="down"), np.random.default_rng(3))
    again = surveyed(take.samples, take.rate_hz, tmp_path, only=frozenset({"G6", "C5"}), said={"only": "G6,C5"})
    assert {row.string: row.status for row in again.strings if row.status != "not heard"} == {
        "C5": "heard",
        "G6": "heard",
    }
    assert len(digest(again, ReportSettings()).not_recorded) == 32
    said = {row.remarks for row in again.strings if row.status == "not heard"}
    assert said == {("It was not to be in the recording: nothing is said of it.",)}


def test_speech_is_no_harp_even_where_strings_are_named(tmp_path):
    words = speech(2.0, 22050, np.random.default_rng(5))
    with pytest.raises(TooLittleHarp, match="--only"):
        surveyed(0.2 * words / np.abs(words).max(), 22050, tmp_path, first="C4", last="E4")


@pytest.mark.parametrize(("cents", "open_codes"), [(100.0, ["semitone above"]), (-100.0, ["semitone"])])
def test_a_harp_a_semitone_off_is_asked_about_though_its_levers_were_said_to_be_off(tmp_path, cents, open_codes):
    spec = HarpSpec(slack_cents=cents, drift_cents=2.0, scatter_cents=4.0, gap_s=(1.6, 2.0), rate_hz=22050)
    take = harp_recording(spec, np.random.default_rng(5))
    path = tmp_path / "recording.wav"
    soundfile.write(path, take.samples, take.rate_hz, subtype="PCM_16")
    harp = load_layout("lever-34")
    said = make_tuning(harp, "E-flat", levers="off")
    survey = analyze(Request(recordings=(path,), layout=harp, tuning=said), Settings())
    assert [doubt.code for doubt in survey.doubts] == open_codes


def test_a_longer_harp_than_the_layout_is_asked_about_not_read_as_slack(tmp_path):
    spec = HarpSpec(strings=harp_strings("C3", "C7"), slack_cents=-20.0, gap_s=(1.4, 1.7), rate_hz=22050)
    take = harp_recording(spec, np.random.default_rng(8))
    path = tmp_path / "recording.wav"
    soundfile.write(path, take.samples, take.rate_hz, subtype="PCM_16")
    harp = load_layout("lever-22-C4-C7")
    survey = analyze(Request(recordings=(path,), layout=harp, tuning=make_tuning(harp, "C", levers="off")), Settings())
    assert [doubt.code for doubt in survey.doubts] == ["another layout"]
    assert "sounds that ring like strings for 22 strings" in survey.doubts[0].sentence


def test_a_concert_harps_own_notes(tmp_path, pytestconfig):
    """Concert harp notes: npm package tonejs-instrument-harp-wav 1.1.0, CC BY 3.0, bent and put together here."""
    notes = notes_or_skip(pytestconfig)
    rng = np.random.default_rng(7)
    shift = {s: float(-150 + rng.normal() * 25) for s in notes}
    take = assemble(notes, rng, shift_cents=shift)
    there = {t.string for t in take.plucks}
    harp = load_layout("pedal-47")
    missing = frozenset(s.string for s in harp.strings if s.string not in there)
    survey = surveyed(take.samples, take.rate_hz, tmp_path, layout="pedal-47", key="C", missing=missing)
    assert named_right(survey, take.plucks)[0] == 1.0
    rows = {r.string: r for r in survey.strings}
    off = [abs(rows[t.string].cents - t.cents) for t in take.plucks if t.cents is not None]
    assert np.median(off) < 2
    assert max(off) < 30


def test_a_recorders_gate_is_told_and_does_not_make_strings_die_sooner(tmp_path):
    """Against what the same plucks give without the gate, and the truth."""
    spec = HarpSpec(strings=harp_strings("C3", "C6", flats="BEA"), gap_s=(2.4, 3.0), rate_hz=22050, room_t60_s=None)
    take = harp_recording(spec, np.random.default_rng(3))
    open_, gated = (
        surveyed(sound, take.rate_hz, tmp_path, first="C3", last="C6")
        for sound in (take.samples, expanded(take.samples, take.rate_hz, below_db=-25.0, ratio=1.5, most_db=12.0))
    )
    assert [f.code for f in open_.recordings[0].findings] == []
    assert [f.code for f in gated.recordings[0].findings] == ["gate"]
    truth_s = {t.string: t.note.decay_s for t in take.plucks}
    rows = [row for row in gated.strings if row.decay_s is not None]
    assert len(rows) >= 20
    off = [np.log(row.decay_s / truth_s[row.string]) for row in rows]
    assert abs(np.median(off)) < 0.05
    assert np.mean([abs(row.decay_s - truth_s[row.string]) <= row.decay_u95_s for row in rows]) >= 0.85
    u95_s = {row.string: row.decay_u95_s for row in open_.strings}
    assert np.median([row.decay_u95_s / u95_s[row.string] for row in rows]) > 1.1
    assert not any(row.dull for row in gated.strings)


def test_strings_that_a_gate_closes_on_are_false_or_not_judged_and_never_blamed_on_the_next_pluck(tmp_path):
    """Shut by 60 dB where a pluck has fallen to -30 dB of full scale (common practice, no source)."""
    beat_hz = {"A3": 2.0, "D4": 2.0, "F4": 3.0, "B4": 3.0, "E5": 4.0}
    spec = HarpSpec(
        strings=harp_strings("C3", "C6", flats="BEA"), gap_s=(2.4, 3.0), rate_hz=22050, room_t60_s=None, false=beat_hz
    )
    take = harp_recording(spec, np.random.default_rng(0))
    shut = expanded(take.samples, take.rate_hz, below_db=-30.0, ratio=20.0, most_db=60.0)
    survey = surveyed(shut, take.rate_hz, tmp_path, first="C3", last="C6")
    assert "gate" in [f.code for f in survey.recordings[0].findings]
    rows = {row.string: row for row in survey.strings if row.status == "heard"}
    assert any(rows[string].verdict == "false" for string in beat_hz)
    for string in beat_hz:
        assert rows[string].false_probability is None or rows[string].false_probability > 0.5
    remarks = " ".join(remark for row in survey.strings for remark in row.remarks)
    assert "the recorder turned it down too soon" in remarks
    assert "the next sound came too soon" not in remarks


def test_what_a_gate_cuts_short_is_neither_dull_nor_false_nor_a_buzz(tmp_path):
    """Shut within half a second on most strings, at once on some."""
    spec = HarpSpec(strings=harp_strings("C3", "C6", flats="BEA"), gap_s=(2.4, 3.0), rate_hz=22050, room_t60_s=None)
    take = harp_recording(spec, np.random.default_rng(5))
    shut = expanded(take.samples, take.rate_hz, below_db=-20.0, ratio=20.0, most_db=60.0)
    survey = surveyed(shut, take.rate_hz, tmp_path, first="C3", last="C6")
    assert [f.code for f in survey.recordings[0].findings] == ["gate"]
    assert {row.verdict for row in survey.strings} <= {"sound", "cannot judge"}
    assert not any("rattles" in remark for row in survey.strings for remark in row.remarks)


def test_a_reference_tone_corrects_the_clock_and_says_so(tmp_path):
    """A recorder 200 parts per million fast in its samples shows every pitch 0.346 cents low (1731·2e-4)."""
    take = harp_recording(
        HarpSpec(strings=harp_strings("C4", "C6", flats="BEA"), gap_s=(1.4, 1.8), rate_hz=22050, snr_db=50),
        np.random.default_rng(4),
    )
    t_s = np.arange(4 * take.rate_hz) / take.rate_hz
    fork = 0.05 * np.sin(2 * np.pi * 440.0 * t_s) * np.exp(-t_s / 5)
    ppm = 200e-6
    sound = np.concatenate([np.zeros(take.rate_hz // 2), fork, np.zeros(take.rate_hz // 4), take.samples])
    at = np.arange(int(len(sound) * (1 + ppm))) / (1 + ppm)
    slow = np.interp(at, np.arange(len(sound)), sound)
    plain = surveyed(slow, take.rate_hz, tmp_path)
    checked = surveyed(slow, take.rate_hz, tmp_path, reference_hz=440.0)
    assert any("440 Hz reference" in r and "low" in r for r in checked.remarks)
    a, b = ({r.string: r.cents for r in s.strings if r.cents is not None} for s in (plain, checked))
    rises = [b[s] - a[s] for s in set(a) & set(b)]
    assert len(rises) >= 14
    assert np.median(rises) == pytest.approx(0.346, abs=0.15)


@pytest.mark.parametrize(("flats", "doubted"), [("", True), ("BEA", False)])
def test_a_harp_in_c_of_which_nobody_said_so_is_asked_about(tmp_path, flats, doubted):
    """C major read as E-flat major agrees with itself two strings higher: both have the steps of a major scale."""
    spec = HarpSpec(strings=harp_strings("C2", "A6", flats=flats), gap_s=(1.2, 1.6), rate_hz=22050, slack_cents=-60.0)
    take = harp_recording(spec, np.random.default_rng(4))
    survey = surveyed(take.samples, take.rate_hz, tmp_path, key=None)
    asked = [d for d in survey.doubts if d.sentence.startswith("Nobody said which key")]
    assert bool(asked) == doubted
    if doubted:
        assert "better in C major than in E-flat major" in asked[0].sentence
    else:
        assert named_right(survey, take.plucks)[0] == 1.0


@pytest.mark.parametrize(("named", "compared"), [(False, True), (True, False)])
def test_no_other_key_is_tried_where_the_strings_were_named(tmp_path, named, compared):
    """Who records a few strings again says which: no other key can give them other names."""
    strings = harp_strings("C4", "E4")
    take = harp_recording(HarpSpec(strings=strings, rate_hz=22050), np.random.default_rng(0))
    path, harp = tmp_path / "recording.wav", load_layout("lever-34")
    soundfile.write(path, take.samples, take.rate_hz, subtype="PCM_16")
    only = frozenset(name for name, _ in strings) if named else None
    request = Request(recordings=(path,), layout=harp, tuning=make_tuning(harp), only=only)
    assert bool(hear(path, request, 0, Settings()).other_keys) == compared
