"""Reading recordings: every container and rate, true times, channels, memory, and files that are none.

The files are written by libsndfile and FFmpeg, so that reading is checked against their writers.
"""

import hashlib
import os
import struct
import sys
import tracemalloc
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.channels import weights_from_moments
from analyzer.errors import UnusableInput
from analyzer.recording import Samples, read_recording
from analyzer.settings import RecordingSettings

SETTINGS = RecordingSettings()
RATE_HZ = SETTINGS.rate_hz


def click_sound(rate_hz: int, at_s: float, length_s: float = 3.0) -> np.ndarray:
    """Faint noise with one band-limited click (Gaussian, 0.2 ms, -6 dB) whose middle is at `at_s`."""
    t = np.arange(round(length_s * rate_hz)) / rate_hz
    noise = np.random.default_rng(7).normal(0, 1e-3, len(t))
    return (noise + 0.5 * np.exp(-0.5 * ((t - at_s) / 2e-4) ** 2)).astype(np.float32)


def click_time_s(samples: Samples) -> float:
    return float(np.argmax(samples.read(0, len(samples)))) / RATE_HZ


def write_with_ffmpeg(path: Path, codec: str, rate_hz: int, sound: np.ndarray, picture: bool = False) -> Path:
    """Encode mono sound; with `picture`, beside a black video stream."""
    with av.open(str(path), "w") as container:
        video = container.add_stream("mpeg4", rate=10) if picture else None
        if video is not None:
            video.width, video.height, video.pix_fmt = 64, 64, "yuv420p"
        stream = container.add_stream(codec, rate=rate_hz)
        stream.layout = "mono"
        frame = av.AudioFrame.from_ndarray(
            np.clip(sound * 32767, -32768, 32767).astype(np.int16)[None], format="s16", layout="mono"
        )
        frame.sample_rate = rate_hz
        frame.pts = 0
        for packet in (*stream.encode(frame), *stream.encode(None)):
            container.mux(packet)
        if video is not None:
            black = np.zeros((64, 64, 3), np.uint8)
            for k in range(int(len(sound) / rate_hz * 10)):
                image = av.VideoFrame.from_ndarray(black, format="rgb24")
                image.pts = k
                for packet in video.encode(image):
                    container.mux(packet)
            for packet in video.encode(None):
                container.mux(packet)
    return path


@pytest.mark.parametrize("rate_hz", [8000, 11025, 16000, 22050, 44100, 48000, 96000, 192000])
def test_a_click_keeps_its_time_at_every_rate(tmp_path: Path, rate_hz: int) -> None:
    path = tmp_path / "click.wav"
    soundfile.write(path, click_sound(rate_hz, 1.7), rate_hz, subtype="PCM_16")
    recording = read_recording(path, SETTINGS)
    assert abs(click_time_s(recording.samples) - 1.7) <= 1 / RATE_HZ
    assert abs(len(recording.samples) - 3.0 * RATE_HZ) <= 1
    assert recording.info.duration_s == pytest.approx(3.0, abs=1 / rate_hz)
    assert recording.info.source_rate_hz == rate_hz
    assert recording.info.channels == 1


@pytest.mark.parametrize(
    ("name", "codec", "allowed_s"),
    [("a.flac", "flac", 1 / RATE_HZ), ("a.ogg", "vorbis", 1e-3), ("a.mp3", "mp3", 1e-3)],
)
def test_what_libsndfile_writes_is_read_in_time(tmp_path: Path, name: str, codec: str, allowed_s: float) -> None:
    soundfile.write(tmp_path / name, click_sound(44100, 1.7), 44100)
    recording = read_recording(tmp_path / name, SETTINGS)
    assert abs(click_time_s(recording.samples) - 1.7) <= allowed_s
    assert recording.info.codec == codec
    assert recording.info.sha256 == hashlib.sha256((tmp_path / name).read_bytes()).hexdigest()


@pytest.mark.parametrize(
    ("name", "encoder", "rate_hz", "picture", "decoder"),
    [
        ("memo.m4a", "aac", 44100, False, "aac"),
        ("memo.webm", "libopus", 48000, False, "opus"),
        ("memo.opus", "libopus", 48000, False, "opus"),
        ("film.mp4", "aac", 48000, True, "aac"),
        ("film.mov", "aac", 44100, True, "aac"),
        ("call.3gp", "libopencore_amrnb", 8000, False, "amr_nb"),
        ("call.amr", "libopencore_amrnb", 8000, False, "amr_nb"),
    ],
)
def test_what_a_phone_sends_is_read_in_time(
    tmp_path: Path, name: str, encoder: str, rate_hz: int, picture: bool, decoder: str
) -> None:
    if encoder not in av.codecs_available:
        pytest.skip(f"this build of PyAV has no encoder {encoder}")
    path = write_with_ffmpeg(tmp_path / name, encoder, rate_hz, click_sound(rate_hz, 1.7), picture)
    recording = read_recording(path, SETTINGS)
    # AMR has no way to say its own delay of 5 ms (3GPP TS 26.090)
    assert abs(click_time_s(recording.samples) - 1.7) <= (6e-3 if rate_hz == 8000 else 1e-3)
    assert recording.info.duration_s == pytest.approx(3.0, abs=0.1)
    assert recording.info.codec == decoder


def test_bare_aac_is_read_no_more_than_its_priming_late(tmp_path: Path) -> None:
    path = write_with_ffmpeg(tmp_path / "memo.aac", "aac", 44100, click_sound(44100, 1.7))
    late_s = click_time_s(read_recording(path, SETTINGS).samples) - 1.7
    assert 0 <= late_s <= 2112 / 44100  # the longest priming in use, Apple TN2258


def test_the_content_decides_and_not_the_name(tmp_path: Path) -> None:
    m4a = write_with_ffmpeg(tmp_path / "memo.m4a", "aac", 44100, click_sound(44100, 1.7))
    for name in ("memo.wav", "memo.mp3", "memo.raw", "memo"):
        (tmp_path / name).write_bytes(m4a.read_bytes())
        assert read_recording(tmp_path / name, SETTINGS).info.codec == "aac"


# --- channels -------------------------------------------------------------------------------------------------


def plucks(rate_hz: int = 44100, length_s: float = 6.0) -> np.ndarray:
    """A decaying tone of another pitch every second."""
    t = np.arange(int(length_s * rate_hz)) / rate_hz
    return 0.4 * np.sin(2 * np.pi * (200 + 60 * np.floor(t)) * (t % 1)) * np.exp(-8 * (t % 1))


def read_channels(tmp_path: Path, *channels: np.ndarray):
    path = tmp_path / "channels.wav"
    soundfile.write(path, np.stack(channels, axis=1), 44100, subtype="FLOAT")
    return read_recording(path, SETTINGS)


def level(samples: Samples) -> float:
    return float(np.std(samples.read(0, len(samples))))


@pytest.mark.parametrize("second", [1.0, -1.0, -0.5, 0.0])
def test_channels_in_and_out_of_phase_and_dead_give_the_same_sound(tmp_path: Path, second: float) -> None:
    sound = plucks()
    alone = read_channels(tmp_path, sound).samples
    both = read_channels(tmp_path, sound, second * sound)
    assert level(both.samples) >= 0.5 * level(alone)
    likeness = np.corrcoef(alone.read(0, len(alone)), both.samples.read(0, len(alone)))[0, 1]
    assert abs(likeness) > 0.9999
    assert sum(abs(w) for w in both.info.channel_weights) == pytest.approx(1.0, abs=1e-3)


def test_a_dead_channel_with_hiss_counts_nothing(tmp_path: Path) -> None:
    hiss = np.random.default_rng(1).normal(0, 1e-4, len(plucks()))
    assert read_channels(tmp_path, hiss, plucks()).info.channel_weights == (0.0, 1.0)


def test_the_noisier_channel_counts_less(tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    sound = plucks(length_s=30.0)
    quiet, noisy = sound + rng.normal(0, 1e-3, len(sound)), sound + rng.normal(0, 4e-3, len(sound))
    weights = read_channels(tmp_path, quiet, noisy).info.channel_weights
    assert weights[0] / weights[1] == pytest.approx(16, rel=0.5)  # the ratio of the noise powers


def test_strings_on_one_side_only_are_all_kept(tmp_path: Path) -> None:
    sound = plucks()
    left = np.floor(np.arange(len(sound)) / 44100) % 2 == 0
    samples = read_channels(tmp_path, sound * left, sound * ~left).samples
    for second in range(6):
        assert np.abs(samples.read(second * RATE_HZ, (second + 1) * RATE_HZ)).max() > 0.15


def test_where_single_strings_would_cancel_one_channel_is_used() -> None:
    same, opposite = np.array([[1.0, 1.0], [1.0, 1.0]]), np.array([[0.8, -0.8], [-0.8, 0.8]])
    silence = 1e-6 * np.eye(2)
    moments = np.stack([same] * 20 + [opposite] * 10 + [silence] * 10)
    assert sorted(np.abs(weights_from_moments(moments, SETTINGS))) == [0.0, 1.0]


# --- samples --------------------------------------------------------------------------------------------------


def test_long_recordings_read_the_same_from_disk_as_from_memory(tmp_path: Path) -> None:
    path = tmp_path / "click.flac"
    soundfile.write(path, click_sound(44100, 1.7), 44100)
    held = read_recording(path, SETTINGS).samples
    spooled = read_recording(path, RecordingSettings(in_memory_s=0.5)).samples
    assert len(held) == len(spooled)
    for start, stop in ((0, len(held)), (-50, 100), (30000, 30001), (len(held) - 10, len(held) + 10), (5, 5)):
        assert np.array_equal(held.read(start, stop), spooled.read(start, stop))
        assert len(held.read(start, stop)) == stop - start
    assert not held.read(-50, 0).any()


@given(length=st.integers(0, 300), size=st.integers(2, 50), overlap=st.integers(0, 49))
def test_blocks_cover_every_sample_with_the_overlap_asked_for(length: int, size: int, overlap: int) -> None:
    overlap = min(overlap, size - 1)
    sound = np.arange(length, dtype=np.float32)
    samples = Samples(sound, length)
    rebuilt: list[float] = []
    for start, block in samples.blocks(size, overlap):
        assert start == (0 if not rebuilt else len(rebuilt) - overlap)
        rebuilt = rebuilt[:start] + block.tolist()
    assert rebuilt == sound.tolist()


def test_memory_does_not_grow_with_a_spooled_recording(tmp_path: Path) -> None:
    peaks = []
    for length_s in (60, 240):
        path = tmp_path / f"{length_s}.wav"
        soundfile.write(path, np.tile(plucks(8000, 10.0), length_s // 10), 8000)
        read_recording(path, SETTINGS)  # imports and caches
        tracemalloc.start()
        read_recording(path, RecordingSettings(in_memory_s=20.0))
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] - peaks[0] < 0.25 * 180 * RATE_HZ * 4  # a quarter of what the sound itself would take


# --- bad input ------------------------------------------------------------------------------------------------


def refusal(path: Path, settings: RecordingSettings = SETTINGS) -> str:
    with pytest.raises(UnusableInput) as caught:
        read_recording(path, settings)
    sentence = str(caught.value)
    assert sentence.isprintable()
    assert sentence.endswith(".")
    return sentence


def test_a_missing_file_gets_the_nearest_name(tmp_path: Path) -> None:
    (tmp_path / "salvi-before.wav").write_bytes(b"x")
    assert "salvi-before.wav" in refusal(tmp_path / "salvi-befor.wav")
    assert "does not exist" in refusal(tmp_path / "nowhere" / "a.wav")


def test_a_folder_is_refused(tmp_path: Path) -> None:
    assert "folder" in refusal(tmp_path)


@pytest.mark.parametrize("name", ["a\x00b.wav", "a\nb.wav", "x" * 5000, "../nothing-here.wav"])
def test_strange_names_give_one_line(tmp_path: Path, name: str) -> None:
    refusal(tmp_path / name)


def test_an_empty_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.wav").touch()
    assert "empty" in refusal(tmp_path / "a.wav")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root reads everything")
def test_no_permission_is_said(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    soundfile.write(path, plucks(), 44100)
    path.chmod(0)
    assert "permission" in refusal(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_is_refused_without_waiting(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a.wav")
    assert "ordinary file" in refusal(tmp_path / "a.wav")


@pytest.mark.parametrize("content", [b"hello, this is no sound\n" * 99, b"%PDF-1.7\n" + bytes(5000), b"RIFF"])
def test_what_is_not_sound_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "a.wav").write_bytes(content)
    assert "not a recording" in refusal(tmp_path / "a.wav")


@pytest.mark.parametrize(
    "playlist",
    ["#EXTM3U\n#EXT-X-TARGETDURATION:3\n#EXTINF:3,\n{0}\n#EXT-X-ENDLIST\n", "ffconcat version 1.0\nfile '{0}'\n"],
)
def test_a_playlist_opens_no_other_file(tmp_path: Path, playlist: str) -> None:
    soundfile.write(tmp_path / "other.wav", plucks(), 44100)
    (tmp_path / "a.m4a").write_text(playlist.format(tmp_path / "other.wav"), encoding="utf-8")
    assert "not a recording" in refusal(tmp_path / "a.m4a")


def test_silence_is_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", np.zeros(44100), 44100)
    assert "silence" in refusal(tmp_path / "a.wav")


def test_a_header_without_sound_is_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", np.zeros(0), 44100)
    refusal(tmp_path / "a.wav")


def test_a_video_without_sound_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "film.mp4"
    with av.open(str(path), "w") as container:
        video = container.add_stream("mpeg4", rate=10)
        video.width, video.height, video.pix_fmt = 64, 64, "yuv420p"
        for packet in (
            *video.encode(av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), format="rgb24")),
            *video.encode(None),
        ):
            container.mux(packet)
    assert "without sound" in refusal(path)


def wav_bytes(rate_hz: int, channels: int, data: bytes, bits: int = 16, kind: int = 1) -> bytes:
    """A WAV file by hand (Microsoft RIFF, `fmt ` and `data` chunks), so that it can lie."""
    frame = channels * bits // 8
    form = struct.pack("<HHIIHH", kind, channels, rate_hz, (rate_hz * frame) & 0xFFFFFFFF, frame, bits)
    body = b"WAVEfmt " + struct.pack("<I", 16) + form + b"data" + struct.pack("<I", len(data)) + data
    return b"RIFF" + struct.pack("<I", len(body)) + body


@pytest.mark.parametrize("rate_hz", [0, 1, 7999, 192001, 10_000_000, 0xFFFFFFFF])
def test_absurd_rates_are_refused(tmp_path: Path, rate_hz: int) -> None:
    (tmp_path / "a.wav").write_bytes(wav_bytes(rate_hz, 1, b"\x01\x20" * 9000))
    refusal(tmp_path / "a.wav")


def test_64_channels_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(wav_bytes(44100, 64, b"\x01\x20" * 64 * 900))
    assert "64 channels" in refusal(tmp_path / "a.wav")


def test_a_recording_beyond_the_bound_is_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.flac", plucks(), 44100)
    assert "longer than" in refusal(tmp_path / "a.flac", RecordingSettings(longest_s=5.0))


def test_samples_that_are_no_numbers_are_silence_and_said(tmp_path: Path) -> None:
    sound = plucks().astype(np.float32)
    sound[[100, 200, 300, 400]] = np.nan, np.inf, -np.inf, 1e30
    soundfile.write(tmp_path / "a.wav", sound, 44100, subtype="FLOAT")
    recording = read_recording(tmp_path / "a.wav", SETTINGS)
    assert np.isfinite(recording.samples.read(0, len(recording.samples))).all()
    finding = next(f for f in recording.info.findings if f.code == "damaged samples")
    assert finding.what.startswith("4 samples")
    soundfile.write(tmp_path / "b.wav", np.full(44100, np.nan, np.float32), 44100, subtype="FLOAT")
    assert "silence" in refusal(tmp_path / "b.wav")


@pytest.mark.parametrize("name", ["a.wav", "a.flac", "a.mp3", "a.m4a", "a.webm"])
def test_a_file_cut_off_gives_what_is_there_and_says_so_or_is_refused(tmp_path: Path, name: str) -> None:
    sound = np.tile(plucks(48000), 3)
    if name.endswith(("m4a", "webm")):
        path = write_with_ffmpeg(tmp_path / name, "aac" if name.endswith("m4a") else "libopus", 48000, sound)
    else:
        path = tmp_path / name
        soundfile.write(path, sound, 48000)
    path.write_bytes(path.read_bytes()[: path.stat().st_size * 6 // 10])
    try:
        info = read_recording(path, SETTINGS).info
    except UnusableInput:
        assert name == "a.m4a"  # its index is at the end
        return
    assert 0.4 * 18 < info.duration_s < 0.8 * 18
    assert "cut off" in [f.code for f in info.findings]


SEEDS: dict[str, bytes] = {}


def seed(name: str, tmp: Path) -> bytes:
    if name not in SEEDS:
        sound = plucks(16000, 1.0)
        if name in ("m4a", "webm"):
            write_with_ffmpeg(tmp / f"s.{name}", "aac" if name == "m4a" else "libopus", 16000, sound)
        else:
            soundfile.write(tmp / f"s.{name}", sound, 16000)
        SEEDS[name] = (tmp / f"s.{name}").read_bytes()
    return SEEDS[name]


@given(data=st.data())
@settings(max_examples=150, deadline=None)
def test_broken_files_end_in_a_recording_or_one_sentence(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    tmp = tmp_path_factory.getbasetemp()
    kind = data.draw(st.sampled_from(["random", "wav", "flac", "ogg", "mp3", "m4a", "webm"]))
    if kind == "random":
        content = bytearray(data.draw(st.binary(min_size=1, max_size=300)))
    else:
        content = bytearray(seed(kind, tmp))
        reach = data.draw(st.sampled_from([60, 400, len(content)]))
        for _ in range(data.draw(st.integers(1, 12))):
            content[data.draw(st.integers(0, min(reach, len(content)) - 1))] = data.draw(st.integers(0, 255))
        content = content[: data.draw(st.integers(1, len(content)))] if data.draw(st.booleans()) else content
    path = tmp / "broken.bin"
    path.write_bytes(content)
    try:
        recording = read_recording(path, SETTINGS)
    except UnusableInput:
        refusal(path)
        return
    assert np.isfinite(recording.samples.read(0, len(recording.samples))).all()
    assert len(recording.samples) <= SETTINGS.longest_s * RATE_HZ


def test_reading_loads_no_more_than_it_needs() -> None:
    import subprocess

    code = "import sys, analyzer.recording; print([m for m in ('soundfile','av','soxr','scipy') if m in sys.modules])"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
