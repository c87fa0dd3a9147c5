"""Check-up of a recording (first part: measured while it streams)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.recording import Finding
from analyzer.settings import RecordingSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    peak_db: float
    noise_floor_db: float
    bandwidth_hz: float
    hum_hz: float | None


class Meters:
    def __init__(self, source_rate_hz: int, settings: RecordingSettings) -> None:
        self.peak = 0.0
        self._levels: list[NDArray[np.float32]] = []
        self._source_rate_hz = source_rate_hz

    def mend(self, block: NDArray[np.float32]) -> NDArray[np.float32]:
        if not np.isfinite(block.sum()):
            return np.nan_to_num(block, nan=0.0, posinf=0.0, neginf=0.0)
        return block

    def take_source(self, block: NDArray[np.float32], mono: NDArray[np.float32]) -> None:
        self.peak = max(self.peak, float(np.abs(block).max()))

    def take_resampled(self, block: NDArray[np.float32]) -> None:
        frames = block[: len(block) // 1100 * 1100].reshape(-1, 1100)
        self._levels.append(np.einsum("ij,ij->i", frames, frames) / 1100)

    def finish(self) -> Measured:
        levels = np.concatenate(self._levels)
        floor = 10 * np.log10(max(1e-12, float(np.percentile(levels, 5)))) if len(levels) else -120.0
        return Measured(
            peak_db=20 * float(np.log10(self.peak)),
            noise_floor_db=float(floor),
            bandwidth_hz=self._source_rate_hz / 2,
            hum_hz=None,
        )


def findings_without_plucks(
    measured: Measured, lost: str, settings: RecordingSettings
) -> tuple[Finding, ...]:
    return ()
