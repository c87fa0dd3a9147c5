"""Tuning: what each open string is set to (stub of the types; being written)."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What one string is to be tuned to."""

    string: str
    note: str
    """`Eb4`."""
    target_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuning:
    """The key of the open strings, the reference pitch, and how it was set, with every string's target."""

    key: str
    """As written on the command line: `E-flat`."""
    a4_hz: float
    setting: str
    """Words a person can contradict: "levers off, E-flat major, A4 = 440 Hz"."""
    settled_by: Literal["person", "default"]
    """Whether the person stated the key and the levers or pedals, or the program assumed them."""
    targets: tuple[Target, ...]
    """Lowest string first, one for each string of the layout."""
