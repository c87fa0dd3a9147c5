"""Files to a Recording (stub of the types; being written)."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing the check-up found about the recording, in words for a beginner."""

    code: str
    """Stable short name: `clipping`, `quiet`, `noise`, `hum`, `bandwidth`, `automatic gain`, `gap`, `too close`, …"""
    severity: Literal["note", "warning", "serious"]
    what: str
    """What was found, with its figure and where."""
    spoils: str
    """What it spoils (pitch, decay, the judgement of dull strings, …)."""
    remedy: str
    """How to record it better."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingInfo:
    """What is known of one recording besides its sound."""

    name: str
    """File name without its folder."""
    sha256: str
    duration_s: float
    source_rate_hz: int
    channels: int
    codec: str
    """As the decoder names it: `flac`, `aac`, `pcm_s16le`, …"""
    peak_db: float
    """Highest sample, dB below full scale."""
    noise_floor_db: float
    """RMS of the quietest stretches, dB below full scale."""
    bandwidth_hz: float
    """Highest frequency that still carries sound."""
    hum_hz: float | None
    """50 or 60 where mains hum stands out, else None."""
    automatic_gain: bool
    """True where the recorder seems to have changed its gain by itself."""
    findings: tuple[Finding, ...]
