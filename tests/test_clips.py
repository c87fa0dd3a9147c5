"""The clips: the pluck that counts, alike in level, in tune, and nothing of the file but its sound."""

import io
from dataclasses import replace

import av
import numpy as np
import pytest
import soundfile

from analyzer import clips
from analyzer.errors import UnusableInput
from analyzer.settings import ClipSettings
from tests.example_recording import RATE_HZ, write_example_recording
from tests.example_survey import NOT_HEARD, example_survey

S = ClipSettings()


@pytest.fixture(scope="module")
def survey():
    return example_survey()


@pytest.fixture(scope="module")
def cut(survey, tmp_path_factory):
    path = write_example_recording(tmp_path_factory.mktemp("clips") / "attic.flac", survey)
    return clips.cut([path], survey)


def decoded(clip):
    """(samples, rate) as a browser's decoder gives them: the pre-skip of the header left out (RFC 7845)."""
    with av.open(io.BytesIO(clip.opus)) as container:
        frames = [frame.to_ndarray() for frame in container.decode(audio=0)]
        return np.concatenate(frames, axis=1)[0], container.streams.audio[0].rate


def test_every_string_heard_has_its_clip_and_no_other(survey, cut):
    assert set(cut) == {row.string for row in survey.strings if row.string not in NOT_HEARD}
    assert all(clip.opus.startswith(b"OggS") for clip in cut.values())


def test_a_clip_is_the_string_at_the_pitch_that_was_measured(survey, cut):
    for row in survey.strings[3::6]:
        sound, rate_hz = decoded(cut[row.string])
        window = sound * np.hanning(len(sound))
        power = np.abs(np.fft.rfft(window, 16 * len(sound))) ** 2
        peak_hz = power.argmax() * rate_hz / (16 * len(sound))
        n = max(1, round(peak_hz / row.pitch_hz))  # the strongest partial need not be the first
        assert abs(1200 * np.log2(peak_hz / n / row.pitch_hz)) < 5


def test_faint_and_strong_plucks_come_out_alike_and_none_clips(cut):
    def loudest_db(sound, rate_hz):
        span_n = round(S.level_span_s * rate_hz)
        energy = np.cumsum(sound.astype(float) ** 2)
        return 10 * np.log10((energy[span_n:] - energy[:-span_n]).max() / span_n)

    sounds = [decoded(clip) for clip in cut.values()]
    assert all(np.abs(sound).max() < 1.0 for sound, _ in sounds)
    levels_db = [loudest_db(*one) for one in sounds]
    assert max(levels_db) - min(levels_db) < 3.0


def test_the_attack_is_whole_and_the_end_fades(cut):
    sound, rate_hz = decoded(cut["C4"])
    lead_n = round(S.lead_s * rate_hz)
    assert np.abs(sound[: lead_n // 2]).max() < 0.02 * np.abs(sound).max()
    assert np.abs(sound[lead_n : 3 * lead_n]).max() > 0.5 * np.abs(sound).max()
    assert np.abs(sound[-rate_hz // 200 :]).max() < 0.02


def test_clips_are_small_and_the_same_each_time(survey, cut, tmp_path):
    assert sum(len(clip.opus) for clip in cut.values()) / len(cut) < 18_000
    path = write_example_recording(tmp_path / "again.flac", survey)
    assert clips.cut([path], survey) == cut


def test_the_spectrum_has_its_highest_point_at_a_partial(survey, cut):
    row, clip = survey.strings[10], cut[survey.strings[10].string]
    peak_hz = clip.spectrum_hz[int(np.argmax(clip.spectrum_db))]
    assert max(clip.spectrum_db) == 0.0
    assert min(clip.spectrum_db) >= S.spectrum_floor_db
    n = round(peak_hz / row.pitch_hz)
    assert abs(np.log2(peak_hz / (n * row.pitch_hz))) < 1 / S.spectrum_points_n * 9


def test_nothing_of_the_recording_goes_along_but_its_sound(survey, tmp_path):
    # RFC 7845, 5.2: comments of an Ogg Opus stream are NAME=value; the recording has a place and a device.
    path = tmp_path / "tagged.flac"
    with soundfile.SoundFile(path, "w", RATE_HZ, 1, format="FLAC") as file:
        file.title, file.artist, file.comment = "Somewhere street 5", "A phone of mine", "52.1 N 4.3 E"
        file.write(0.1 * np.sin(np.arange(RATE_HZ * 120) / 20))
    for clip in clips.cut([path], survey).values():
        for word in (b"Somewhere", b"phone", b"52.1", b"tagged"):
            assert word not in clip.opus


def test_channels_are_summed_as_the_survey_summed_them(survey, tmp_path):
    mono, _ = soundfile.read(write_example_recording(tmp_path / "mono.flac", survey))
    soundfile.write(tmp_path / "two.flac", np.stack([mono, -mono], axis=1), RATE_HZ)
    info = replace(survey.recordings[0], channels=2, channel_weights=(0.5, -0.5))
    two = clips.cut([tmp_path / "two.flac"], replace(survey, recordings=(info,)))
    assert two.keys() == clips.cut([tmp_path / "mono.flac"], survey).keys()
    sound, _ = decoded(two["C4"])
    assert np.abs(sound).max() > 0.1


def test_a_recording_that_is_gone_is_said(survey, tmp_path):
    with pytest.raises(UnusableInput, match="no such file"):
        clips.cut([tmp_path / "gone.flac"], survey)
