"""A recording through libsndfile: WAV, FLAC, Ogg, AIFF and their like (a `decoding.Source`)."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import RecordingSettings

Block = NDArray[np.float32]


class SoundFileSource:
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
        """Frames in order, up to where the file ends or is damaged."""
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
        """Short blocks at even distances."""
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
        """Let go of the file."""
        self._file.close()
