"""A recording through FFmpeg (PyAV): MP3, m4a, film, and all else that holds sound (a `decoding.Source`).

FFmpeg is given an open file and a list of containers, never a name, so that no playlist in disguise can make it open
other files or addresses. Frames that the container places later than they come (lost packets) are preceded by silence,
so that times stay true.
"""

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyzer.errors import UnusableInput, shown
from analyzer.settings import RecordingSettings

Block = NDArray[np.float32]

CONTAINERS = (
    "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,ogg,aac,amr,amrnb,amrwb,mp3,wav,w64,flac,aiff,caf,avi,asf,mpegts"
    ",mpeg,loas,ac3,eac3,au,flv"
)
"""FFmpeg's demuxers that hold sound themselves; those that point to other files (playlists, lists) are left
out."""


class _File(io.FileIO):
    """A file in which a place before its start, where damage may lead, is not found, and is no error: of an error PyAV
    would write a traceback to standard error."""

    def seek(self, offset: int, whence: int = 0, /) -> int:
        """The new place, or -1, as FFmpeg expects it."""
        try:
            return super().seek(offset, whence)
        except (OSError, OverflowError):
            return -1


class FFmpegSource:
    """A file that FFmpeg opens: the first stream of sound in it."""

    def __init__(self, path: Path, settings: RecordingSettings) -> None:
        import av

        av.logging.set_level(None)
        self._path = path
        self._settings = settings
        self._handle = _File(path)
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
        """Let go of the file."""
        self._handle.close()
