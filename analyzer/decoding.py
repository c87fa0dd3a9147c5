"""Decoding: a file that a person sent -> blocks of sound at the file's own rate.

Task: hand out any recording a phone or a studio makes, in order, a block at a time, and never let a
decoder's own exception out. libsndfile (soundfile) reads WAV, FLAC, OGG and their like; FFmpeg (PyAV) reads
the rest (MP3, m4a, mp4 and mov video, webm, opus, 3gp, amr, aac). The content decides and not the name:
what libsndfile cannot open is offered to FFmpeg. MP3 is FFmpeg's because libsndfile's MP3 decoder writes
its complaints about damaged files to the standard error stream, which belongs to the one sentence of ours.

Conventions: a block is a float32 array of shape (frames, channels), full scale 1. Time zero is the first
frame that the container presents: FFmpeg drops an encoder's priming as the edit list, the pre-skip or the
LAME tag says, and frames that the container places later than they come (lost packets) are preceded by
silence, so that times stay true.

Limits: an Ogg file that was cut off looks like a shorter one, since its header gives no length. A bare AAC
stream (`.aac`, ADTS) does not say how long its priming is; such a file reads about 20 to 50 ms late.

Safety: FFmpeg is given an open file and a list of containers, never a name, so that no playlist in disguise
can make it open other files or addresses.
"""

import difflib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from analyzer.errors import UnusableInput
from analyzer.settings import RecordingSettings

Block = NDArray[np.float32]

CONTAINERS = (
    "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,ogg,aac,amr,amrnb,amrwb,mp3,wav,w64,flac,aiff,caf,avi,asf,mpegts"
    ",mpeg,loas,ac3,eac3,au,flv"
)
"""FFmpeg's demuxers that hold sound themselves; those that point to other files (playlists, lists) are left
out."""

LIBSNDFILE_STARTS = (b"RIFF", b"RIFX", b"RF64", b"riff", b"fLaC", b"OggS", b"FORM", b"caff", b".snd")
"""First bytes of WAV, RF64, W64, FLAC, Ogg, AIFF, CAF and AU files."""


class Source(Protocol):
    """An opened recording; `blocks` may be called again and starts anew."""

    rate_hz: int
    channels: int
    codec: str
    declared_n: int
    """Frames that the header promises, 0 where it says nothing."""
    lost: str
    """Why the end or a part could not be read, after `blocks` has run; empty when all was."""

    def blocks(self) -> Iterator[Block]:
        """All frames in order."""

    def glimpses(self) -> Iterator[Block]:
        """Short blocks from all over the recording (or all of it where seeking is not exact)."""

    def close(self) -> None:
        """Let go of the file."""


def shown(path: Path) -> str:
    """A path for a sentence: on one line, whatever its name holds."""
    return "".join(c if c.isprintable() else "?" for c in str(path))


def open_source(path: Path, settings: RecordingSettings) -> Source:
    """Open a recording by its content.

    Raises UnusableInput for a file that is missing, a folder, unreadable, empty, not sound, or out of bounds
    (rate, channels, length).
    """
    _check_file(path)
    source = _sound_file(path, settings) or _AvSource(path, settings)
    try:
        _check_bounds(path, source, settings)
    except UnusableInput:
        source.close()
        raise
    return source


def _sound_file(path: Path, settings: RecordingSettings) -> Source | None:
    """The file through libsndfile, or None where it is of another kind or damaged too early."""
    with path.open("rb") as file:
        if file.read(4) not in LIBSNDFILE_STARTS:
            return None
    import soundfile

    try:
        return _SoundFileSource(path, settings)
    except (soundfile.SoundFileError, TypeError, ValueError, OSError, RuntimeError):
        return None


def _check_file(path: Path) -> None:
    """Raise UnusableInput unless the path is an ordinary file that can be read and is not empty."""
    name = shown(path)
    try:
        if path.is_dir():
            raise UnusableInput(f"{name}: this is a folder; give the recording inside it.")
        if not path.exists():
            raise UnusableInput(f"{name}: no such file{_nearest(path)}.")
        if not path.is_file():
            raise UnusableInput(f"{name}: not an ordinary file; copy the recording to disk and give that.")
        with path.open("rb") as file:
            empty = not file.read(1)
    except PermissionError as e:
        raise UnusableInput(f"{name}: no permission to read it; change the file's permissions or copy it.") from e
    except (OSError, ValueError) as e:
        reason = getattr(e, "strerror", None) or str(e)
        raise UnusableInput(f"{name}: cannot be opened ({reason}); check the name.") from e
    if empty:
        raise UnusableInput(f"{name}: the file is empty; send or copy the recording again.")


def _nearest(path: Path) -> str:
    """`; did you mean …?`-like words from the names in the same folder, or a plain hint."""
    if not path.parent.is_dir():
        return f": the folder {shown(path.parent)} does not exist; check the name"
    names = sorted(p.name for p in path.parent.iterdir())
    near = difflib.get_close_matches(path.name, names, n=1)
    return f"; the nearest name in that folder is {shown(Path(near[0]))}" if near else "; check the name"


def _check_bounds(path: Path, source: Source, settings: RecordingSettings) -> None:
    name = shown(path)
    if not settings.lowest_rate_hz <= source.rate_hz <= settings.highest_rate_hz:
        raise UnusableInput(
            f"{name}: its header gives {source.rate_hz} samples a second, outside"
            f" {settings.lowest_rate_hz} to"
            f" {settings.highest_rate_hz}; export the recording again at 44100 or 48000."
        )
    if source.channels > settings.most_channels:
        raise UnusableInput(
            f"{name}: it has {source.channels} channels, more than {settings.most_channels}; export"
            " it as mono or stereo."
        )
    if source.declared_n > settings.longest_s * source.rate_hz:
        raise too_long(path, settings)


def too_long(path: Path, settings: RecordingSettings) -> UnusableInput:
    """The error for a recording beyond the bound."""
    hours = settings.longest_s / 3600
    return UnusableInput(f"{shown(path)}: longer than {hours:g} hours; cut out the part with the harp and give that.")


class _SoundFileSource:
    """A file that libsndfile opens."""

    def __init__(self, path: Path, settings: RecordingSettings) -> None:
        import soundfile

        self._settings = settings
        self._file = soundfile.SoundFile(str(path))
        self.rate_hz = int(self._file.samplerate)
        self.channels = int(self._file.channels)
        self._block_n = max(1, int(settings.block_s * self.rate_hz))
        self.declared_n = int(self._file.frames)
        kind = "FLAC" if self._file.format == "FLAC" else self._file.subtype
        self.codec = str(kind).lower()
        self.lost = ""
        # libsndfile's log marks a chunk that is longer than the file: the recording was cut off in transfer
        self._cut = "should be" in self._file.extra_info

    def blocks(self) -> Iterator[Block]:
        import soundfile

        self.lost = "the file ends before its header says" if self._cut else ""
        read_n = 0
        try:
            self._file.seek(0)
            while True:
                block = self._file.read(self._block_n, dtype="float32", always_2d=True)
                if not len(block):
                    break
                read_n += len(block)
                yield block
        except (soundfile.SoundFileError, RuntimeError):
            self.lost = "the file is damaged"
        if read_n < self.declared_n:
            self.lost = self.lost or "the file ends before its header says"

    def glimpses(self) -> Iterator[Block]:
        import soundfile

        size = int(self._settings.glimpse_s * self.rate_hz)
        step = int(self._settings.glimpse_step_s * self.rate_hz)
        for start in range(0, self.declared_n, step):
            try:
                self._file.seek(start)
                block = self._file.read(size, dtype="float32", always_2d=True)
            except (soundfile.SoundFileError, RuntimeError):
                return
            if len(block):
                yield block

    def close(self) -> None:
        self._file.close()


class _AvSource:
    """A file that FFmpeg opens: the first stream of sound in it."""

    def __init__(self, path: Path, settings: RecordingSettings) -> None:
        import av

        av.logging.set_level(None)
        self._path = path
        self._settings = settings
        self._handle = path.open("rb")
        self.lost = ""
        try:
            container, stream = self._open()
            with container:
                first = next(container.decode(stream), None)
                if first is None:
                    raise UnusableInput(f"{shown(path)}: no sound in it can be decoded; send the recording again.")
                self.rate_hz = int(first.sample_rate)
                self.channels = int(first.layout.nb_channels)
                self._block_n = max(1, int(settings.block_s * self.rate_hz))
                self.codec = str(stream.codec_context.codec.canonical_name)
                promised_s = float(stream.duration * stream.time_base) if stream.duration else 0.0
                if not promised_s and len(container.streams) == 1:
                    promised_s = (container.duration or 0) / av.time_base
                self.declared_n = max(0, int(promised_s * self.rate_hz))
        except UnusableInput:
            self._handle.close()
            raise
        except Exception as e:  # whatever a decoder throws at a broken file, it is the file's fault
            self._handle.close()
            raise UnusableInput(
                f"{shown(path)}: not a recording this program can read, or too damaged;"
                " send the original file again, as WAV, FLAC, MP3 or m4a."
            ) from e

    def _open(self) -> tuple[Any, Any]:
        import av

        self._handle.seek(0)
        container = av.open(self._handle, options={"format_whitelist": CONTAINERS}, metadata_errors="replace")
        if not container.streams.audio:
            container.close()
            raise UnusableInput(f"{shown(self._path)}: a file without sound; record again with the microphone on.")
        stream = container.streams.audio[0]
        if stream.codec_context is None:
            container.close()
            raise ValueError("no decoder for the kind of sound in it")
        stream.codec_context.thread_count = 1
        return container, stream

    def blocks(self) -> Iterator[Block]:
        """Frames in order, lost packets filled with silence, gathered to blocks of about `block_s`."""
        self.lost = ""
        gathered: list[Block] = []
        gathered_n = done_n = 0
        for block in self._filled():
            gathered.append(block)
            gathered_n += len(block)
            if gathered_n >= self._block_n:
                yield np.concatenate(gathered)
                done_n += gathered_n
                gathered, gathered_n = [], 0
        if gathered:
            yield np.concatenate(gathered)
        if done_n + gathered_n < self.declared_n - self._settings.cut_short_s * self.rate_hz:
            self.lost = self.lost or "the file ends before its header says"

    def _filled(self) -> Iterator[Block]:
        """Decoded frames, with silence where packets are missing; ends where decoding fails for good."""
        s = self._settings
        given_n = jumped_n = 0
        container, stream = self._open()
        with container:
            frames = self._frames(container, stream)
            while True:
                try:
                    start_n, block = next(frames)
                except StopIteration:
                    return
                except Exception:  # as above
                    self.lost = "the file is damaged"
                    return
                hole_n = 0 if start_n is None else start_n - jumped_n - given_n
                if hole_n > s.longest_hole_s * self.rate_hz:
                    jumped_n += hole_n
                elif hole_n > s.hole_s * self.rate_hz:
                    self.lost = self.lost or "some of its packets are missing"
                    given_n += hole_n
                    for done_n in range(0, hole_n, self._block_n):
                        yield np.zeros((min(self._block_n, hole_n - done_n), self.channels), np.float32)
                given_n += len(block)
                yield block

    def _frames(self, container: Any, stream: Any) -> Iterator[tuple[int | None, Block]]:
        """(frame number that the container gives or None, block) for each decoded frame; bad packets are
        skipped."""
        import av

        resampler = av.AudioResampler(format="fltp")
        origin_n: int | None = None
        for packet in container.demux(stream):
            try:
                decoded = packet.decode()
            except av.FFmpegError:
                self.lost = "some of its packets are damaged"
                continue
            for frame in decoded:
                start_n = None
                if frame.pts is not None and frame.time_base:
                    start_n = round(frame.pts * frame.time_base.numerator * self.rate_hz / frame.time_base.denominator)
                    origin_n = start_n if origin_n is None else origin_n
                    start_n -= origin_n
                for plain in resampler.resample(frame):
                    if plain.sample_rate != self.rate_hz or plain.layout.nb_channels != self.channels:
                        raise ValueError("the kind of sound changes within the file")
                    yield start_n, np.asarray(plain.to_ndarray().T, np.float32)
                    start_n = None

    def glimpses(self) -> Iterator[Block]:
        """Everything: seeking in compressed streams is not exact, and decoding them is cheap."""
        return self.blocks()

    def close(self) -> None:
        self._handle.close()
