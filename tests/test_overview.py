"""The picture of a recording: it is one, it is wide enough to read, and the same recording gives the same picture."""

import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile

from analyzer.cli import main
from tests.synth_harp import HarpSpec, harp_recording, harp_strings


@pytest.fixture(scope="module")
def recording(tmp_path_factory) -> Path:
    strings = harp_strings("C4", "C7", flats="BEA")
    take = harp_recording(HarpSpec(strings=strings, gap_s=(1.3, 1.7), rate_hz=22050), np.random.default_rng(8))
    path = tmp_path_factory.mktemp("overview") / "harp.flac"
    soundfile.write(path, take.samples, take.rate_hz)
    return path


def test_the_overview_is_a_picture_as_long_as_the_recording(recording, tmp_path):
    words = ["analyze", str(recording), "--layout", "lever-22-C4-C7", "--tuning", "E-flat", "--no-clips", "--overview"]
    for name in ("a", "b"):
        assert main([*words, "--out", str(tmp_path / name)]) == 0
    first, second = ((tmp_path / name / "figures" / "overview.png").read_bytes() for name in ("a", "b"))
    assert first == second
    assert first[:8] == b"\x89PNG\r\n\x1a\n"
    wide, high = struct.unpack(">II", first[16:24])
    assert wide > high > 300


def test_a_picture_and_a_paper_of_an_earlier_recording_do_not_stay_beside_the_new_report(recording, tmp_path):
    out = tmp_path / "out"
    (out / "figures").mkdir(parents=True)
    for name in ("figures/overview.png", "report.pdf"):
        (out / name).write_bytes(b"of another recording")
    words = ["analyze", str(recording), "--layout", "lever-22-C4-C7", "--tuning", "E-flat", "--no-clips"]
    assert main([*words, "--out", str(out)]) == 0
    assert (out / "figures" / "overview.png").read_bytes().startswith(b"\x89PNG")
    assert (out / "report.pdf").read_bytes().startswith(b"%PDF")
