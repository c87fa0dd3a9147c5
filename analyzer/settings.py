"""Every threshold of the program in one place: its value, its unit, and why it is that.

`Settings` is made of one frozen section a stage. A stage receives its section and has no bare numbers of its own
but mathematical ones. Where a reason reads "measured", `tests/bench/` holds the command that measures it again.
"""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingSettings:
    """Decoding and the check-up of the recording (`recording`)."""

    rate_hz: int = 22050
    """Sampling rate of the analysis. The highest harp string is G7 = 3136 Hz; its third partial still fits below
    the 11 kHz that this rate carries, and a third of the usual 44.1 kHz work is saved."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """All sections; the default values are what the command line starts from."""

    recording: RecordingSettings = field(default_factory=RecordingSettings)
