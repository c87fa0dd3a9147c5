"""What holds for all strings together, from recordings: all old, and falling from pluck to pluck."""

import numpy as np
import soundfile

from analyzer.cli import main
from analyzer.survey import read_survey
from tests.synth_harp import HarpSpec, harp_recording, harp_strings

WORDS = ("--layout", "lever-22-C4-C7", "--tuning", "E-flat", "--missing", "none", "--no-clips")


def surveyed(folder, seed, *words, **spec):
    """An invented harp's survey, by the command line."""
    spec = {"room_t60_s": None, "slack_cents": -40.0, "gap_s": (1.3, 1.7), "rate_hz": 22050} | spec
    take = harp_recording(HarpSpec(strings=harp_strings("C4", "C7", flats="BEA"), **spec), np.random.default_rng(seed))
    folder.mkdir()
    soundfile.write(folder / "harp.flac", take.samples, take.rate_hz)
    assert main(["analyze", str(folder / "harp.flac"), *WORDS, "--out", str(folder / "out"), *words]) == 0
    return read_survey(folder / "out")


def test_a_harp_whose_strings_all_are_old_is_told_by_a_reference_survey(tmp_path, capsys):
    surveyed(tmp_path / "new", 1, "--title", "The other harp")
    words = ("--reference-survey", str(tmp_path / "new" / "out"))
    old = surveyed(tmp_path / "old", 2, *words, t60_scale=0.4)
    (said,) = [r for r in old.remarks if "The other harp" in r]
    assert "may all be old" in said
    assert sum(row.verdict == "dull" for row in old.strings) <= 2
    assert old.said["reference-survey"] == "out"
    alike = surveyed(tmp_path / "alike", 3, *words)
    (said,) = [r for r in alike.remarks if "The other harp" in r]
    assert "another room or recorder may explain" in said
    capsys.readouterr()


def test_a_reference_that_is_no_survey_is_refused(tmp_path, capsys):
    (tmp_path / "harp.flac").write_bytes(b"")
    words = [str(tmp_path / "harp.flac"), *WORDS, "--out", str(tmp_path / "out"), "--reference-survey", str(tmp_path)]
    assert main(["analyze", *words]) == 2
    assert "survey.json" in capsys.readouterr().err


def test_a_recorder_that_is_too_loud_makes_no_string_buzz(tmp_path, capsys):
    strings = harp_strings("C3", "C6", flats="BEA")
    spec = HarpSpec(strings=strings, room_t60_s=None, slack_cents=-40.0, gap_s=(1.3, 1.7), rate_hz=22050)
    take = harp_recording(spec, np.random.default_rng(4))
    loud = np.clip(take.samples * 4 / np.abs(take.samples).max(), -1, 1)
    soundfile.write(tmp_path / "harp.flac", loud, take.rate_hz)
    words = ("--layout", "lever-22-C3-C6", "--tuning", "E-flat", "--missing", "none", "--no-clips")
    assert main(["analyze", str(tmp_path / "harp.flac"), *words, "--out", str(tmp_path / "out")]) == 0
    survey = read_survey(tmp_path / "out")
    assert len(survey.recordings[0].clipped_at_s) > 10
    assert not [remark for row in survey.strings for remark in row.remarks if "buzzes" in remark]
    capsys.readouterr()
