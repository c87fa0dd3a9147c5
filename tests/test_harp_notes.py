"""The real notes are what their names say, and recordings made of them hold what their truth says."""

import shutil

import numpy as np
import pytest

from tests import harp_notes


@pytest.fixture(scope="module")
def notes(pytestconfig):
    return harp_notes.notes_or_skip(pytestconfig)


def test_the_package_holds_23_notes_near_the_pitch_of_their_names(notes):
    assert len(notes) == 23
    for name, note in notes.items():
        cents = harp_notes.plain_cents(note, name)
        assert cents is None or -40 < cents < 10, name  # measured: 1 to 31 cents flat


def test_bending_moves_the_pitch_by_what_was_asked(notes):
    before = harp_notes.plain_cents(notes["A4"], "A4")
    after = harp_notes.plain_cents(harp_notes.bent(notes["A4"], -180.0), "A4")
    assert after - before == pytest.approx(-180.0, abs=0.5)


def test_damping_multiplies_the_decay_rate():
    """A pure decay of T60 = 2 s damped threefold falls by 60 dB in 2/3 s."""
    t_s = np.arange(3 * harp_notes.RATE_HZ) / harp_notes.RATE_HZ
    dull = harp_notes.damped(np.sin(2 * np.pi * 441 * t_s) * 10 ** (-3 * t_s / 2), 3.0)
    levels_db = 20 * np.log10([np.std(dull[start : start + 4410]) for start in (0, 22050)])
    assert levels_db[0] - levels_db[1] == pytest.approx(60 * 0.5 * 3 / 2, rel=0.01)


def test_each_note_stands_in_the_recording_where_the_truth_says(notes):
    shift = dict.fromkeys(notes, -100.0)
    take = harp_notes.assemble(
        notes, np.random.default_rng(1), shift_cents=shift, descending=True, repeated=("A4",), gap_s=(2.0, 2.5)
    )
    assert len(take.plucks) == 24
    assert [one.string for one in take.plucks][:3] == ["F7", "D7", "B6"]
    for one in take.plucks:
        start_n = int(one.onset_s * take.rate_hz)
        before, after = take.samples[start_n - 441 : start_n], take.samples[start_n : start_n + 8 * 441]
        assert np.max(np.abs(after)) > 2 * np.max(np.abs(before)), one
        heard = harp_notes.plain_cents(take.samples[start_n:], one.string)
        if one.cents is not None and heard is not None:
            assert heard == pytest.approx(one.cents, abs=3.0), one


def test_without_npm_the_reason_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr(shutil, "which", lambda name: None)
    with pytest.raises(harp_notes.NotesUnavailableError, match="npm is not installed"):
        harp_notes.load_notes(tmp_path)
