"""Decoding: a file that a person sent -> blocks of sound at the file's own rate.

Task: hand out any recording a phone or a studio makes, in order, a block at a time, and never let a
decoder's own exception out. libsndfile reads WAV, FLAC, OGG and their like (`sndfile_source`); FFmpeg reads the
rest (MP3, m4a, mp4 and mov video, webm, opus, 3gp, amr, aac: `ffmpeg_source`). The content decides and not the
name: what libsndfile cannot open is offered to FFmpeg, and so is a FLAC stream that does not say how long it is,
since libsndfile cannot find its way in it. MP3 is FFmpeg's because libsndfile's MP3 decoder writes
its complaints about damaged files to the standard error stream, which belongs to the one sentence of ours.

Conventions: a block is a float32 array of shape (frames, channels), full scale 1. Time zero is the first
frame that the container presents: FFmpeg drops an encoder's priming as the edit list, the pre-skip or the
LAME tag says.

Limits: an Ogg file that was cut off looks like a shorter one, since its header gives no length. A bare AAC
stream (`.aac`, ADTS) does not say how long its priming is; such a file reads about 20 to 50 ms late.
"""

import difflib
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from analyzer.errors import UnusableInput, shown
from analyzer.ffmpeg_source import FFmpegSource
from analyzer.settings import RecordingSettings
from analyzer.sndfile_source import SoundFileSource

Block = NDArray[np.float32]

LIBSNDFILE_STARTS = (b"RIFF", b"RIFX", b"RF64", b"riff", b"fLaC", b"OggS", b"FORM", b"caff", b".snd")
"""First bytes of WAV, RF64, W64, FLAC, Ogg, AIFF, CAF and AU files."""

UNKNOWN_N = 2**63 - 1
"""What libsndfile calls the length of a stream that does not say it (its SF_COUNT_MAX)."""


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


def open_source(path: Path, settings: RecordingSettings) -> Source:
    """Open a recording by its content.

    Raises UnusableInput for a file that is missing, a folder, unreadable, empty, not sound, or out of bounds
    (rate, channels, length).
    """
    _check_file(path)
    source = _sound_file(path, settings) or FFmpegSource(path, settings)
    try:
        _check_bounds(path, source, settings)
    except UnusableInput:
        source.close()
        raise
    return source


def _sound_file(path: Path, settings: RecordingSettings) -> Source | None:
    """The file through libsndfile, or None where it is of another kind, damaged too early, or says no length."""
    with path.open("rb") as file:
        if file.read(4) not in LIBSNDFILE_STARTS:
            return None
    import soundfile

    try:
        source = SoundFileSource(path, settings)
    except (soundfile.SoundFileError, TypeError, ValueError, OSError, RuntimeError):
        return None
    if source.declared_n == UNKNOWN_N:
        source.close()
        return None
    return source


def _check_file(path: Path) -> None:
    """Raise UnusableInput unless the path is an ordinary file that can be read and is not empty."""
    name = shown(path)
    try:
        if path.is_dir():
            raise UnusableInput(f"{name}: this is a folder; give the recording inside it.")
        try:
            path.stat()
        except (FileNotFoundError, NotADirectoryError, ValueError) as e:  # ValueError: NUL in the name
            raise UnusableInput(f"{name}: no such file{_nearest(path)}.") from e
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
