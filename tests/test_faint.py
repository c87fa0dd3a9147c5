"""Strings plucked too softly to be heard are told where something faint lies in their places, and nothing else is."""

from dataclasses import replace

import numpy as np
import pytest
import soundfile

from analyzer.layout import load_layout
from analyzer.pipeline import analyze
from analyzer.plucks import find_onsets
from analyzer.reply import reply
from analyzer.request import Request
from analyzer.restating import restated
from analyzer.settings import PluckSettings, Settings
from analyzer.speech import Manner, speaking
from analyzer.survey import read_survey, to_json
from analyzer.tuning import make_tuning
from tests.synth_harp import HarpSpec, harp_recording, harp_strings
from tests.test_plucks import RATE_HZ, Held, noise, with_plucks

SOFT = {"G3": 40.0, "E5": 44.0, "C6": 42.0}
"""Strings plucked so many dB more softly than the others; one of them stands at the end of the row."""
SETTINGS = PluckSettings()


def survey_of(folder, order, **request):
    """A harp of 22 strings, three of them soft, one passed over; its survey and when each string was plucked."""
    spec = HarpSpec(
        strings=harp_strings("C3", "C6", flats="BEA"),
        softer=SOFT,
        missing=("A4",),
        slack_cents=-30.0,
        order=order,
        gap_s=(2.2, 2.9),
        rate_hz=22050,
    )
    take = harp_recording(spec, np.random.default_rng(4))
    path = folder / "harp.wav"
    soundfile.write(path, take.samples, take.rate_hz, subtype="PCM_16")
    harp = load_layout("lever-22-C3-C6")
    tuning = make_tuning(harp, "E-flat", levers="off")
    survey = analyze(Request(recordings=(path,), layout=harp, tuning=tuning, made_at="", **request), Settings())
    return survey, {p.string: p.onset_s for p in take.plucks}


@pytest.fixture(scope="module", params=["up", "down"])
def heard(request, tmp_path_factory):
    return survey_of(tmp_path_factory.mktemp("harp"), request.param)


def test_a_soft_pluck_is_told_at_its_time_and_a_string_passed_over_is_not(heard):
    survey, at_s = heard
    rows = {row.string: row for row in survey.strings}
    assert [name for name, row in rows.items() if row.status == "not heard"] == ["G3", "A4", "E5", "C6"]
    told = {name: row.faint_s for name, row in rows.items() if row.faint_s is not None}
    assert told == {name: pytest.approx(at_s[name], abs=0.05) for name in SOFT}
    assert f"at {at_s['G3']:.1f} s of harp.wav" in rows["G3"].remarks[-1]
    assert rows["A4"].remarks == ("No pluck belongs to it: missing, broken or skipped.",)


def test_a_student_is_told_to_record_it_again(heard):
    tasks = reply(heard[0]).tasks
    again = next(task for task in tasks if "plucked too softly" in task.why)
    assert {found.string for found in again.strings} == set(SOFT)
    look = next(task for task in tasks if task.what.startswith("Look whether"))
    assert [found.string for found in look.strings] == ["A4"]
    with speaking(Manner(language="de")):
        for row in heard[0].strings:
            assert not any(restated(text).english for text in row.remarks), row.string


def test_nothing_is_told_of_a_string_that_is_said_to_be_missing(tmp_path):
    survey, at_s = survey_of(tmp_path, "up", missing=frozenset(("A4", "G3")))
    told = {row.string: row.faint_s for row in survey.strings if row.faint_s is not None}
    assert told == {name: pytest.approx(at_s[name], abs=0.05) for name in ("E5", "C6")}


def test_surveys_from_before_have_no_such_moment(heard, tmp_path):
    survey = replace(heard[0], strings=tuple(replace(row, faint_s=None) for row in heard[0].strings))
    (tmp_path / "survey.json").write_bytes(to_json(survey).replace(b'"faint_s": null', b'"tomorrow": null'))
    assert b"faint_s" not in (tmp_path / "survey.json").read_bytes()
    assert read_survey(tmp_path).strings == survey.strings


def test_what_is_faint_is_no_pluck_and_a_pluck_is_not_faint():
    loud = with_plucks((1.0, 5.0), 8.0, f1_hz=880.0)
    soft = with_plucks((3.0,), 8.0, f1_hz=880.0, noise_db=-300.0) * 10 ** (-32 / 20)
    sound = Held(loud + soft)
    onsets = find_onsets(sound, RATE_HZ, SETTINGS)
    assert [p.onset_s for p in onsets.plucks] == pytest.approx((1.0, 5.0), abs=0.02)
    assert onsets.faint_s == (pytest.approx(3.0, abs=0.03),)


@pytest.mark.parametrize("seed", range(4))
def test_nothing_faint_is_in_noise_or_in_strings_that_ring_on(seed):
    assert find_onsets(Held(noise(8.0, -40.0, seed)), RATE_HZ, SETTINGS).faint_s == ()
    ringing = with_plucks((1.0, 3.0), 8.0, f1_hz=110.0 * 1.5**seed)
    assert find_onsets(Held(ringing), RATE_HZ, SETTINGS).faint_s == ()
