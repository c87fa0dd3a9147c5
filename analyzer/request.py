"""What the person asks for and knows: everything a survey needs besides the sound."""

from dataclasses import dataclass, field
from pathlib import Path

from analyzer.layout import Layout
from analyzer.matching import Order
from analyzer.survey import Survey
from analyzer.tuning import Tuning


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """One run of the analysis."""

    recordings: tuple[Path, ...]
    """One, or parts of one harp; a later part fills or replaces what an earlier one has."""
    layout: Layout
    tuning: Tuning
    title: str = ""
    date: str = ""
    order: Order | None = None
    first: str | None = None
    """String plucked first (of the first recording)."""
    last: str | None = None
    """String plucked last (of the last recording)."""
    missing: frozenset[str] | None = None
    """Strings not on the harp; None where nothing was said."""
    only: frozenset[str] | None = None
    """A few strings recorded again: these are in the recording and no others; None where the harp was recorded."""
    named: tuple[tuple[float, str], ...] = ()
    """(seconds in the recording, string): corrections of single plucks."""
    ignored: tuple[float, ...] = ()
    """Seconds at which a sound is no pluck."""
    reference_hz: float | None = None
    """A reference tone known to be in the recording, to check the recorder's clock."""
    reference_survey: Survey | None = None
    """Of a similar harp in good order, to compare the damping of all strings with."""
    said: dict[str, str] = field(default_factory=dict)
    """The words of the command line that bear on the reading, for the survey and a rerun."""
    made_at: str = ""
    """ISO 8601 time to put into the survey."""
