"""Layouts (stub of the types; being written)."""

from dataclasses import dataclass
from typing import Literal

Material = Literal["gut", "nylon", "carbon", "wire", "steel", "brass", "wound nylon", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutString:
    """One string of a layout."""

    string: str
    """`C4`: letter and octave, no accidental."""
    material: Material
    length_mm: float | None = None
    """Vibrating length."""
    diameter_mm: float | None = None
    mass_g_per_m: float | None = None
    """Mass per metre; for wound strings the only way to know the tension."""
    core_diameter_mm: float | None = None
    """Core of a wound string: what carries the load."""
    colour: Literal["red", "black", "blue", "plain"] = "plain"


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A harp's strings, lowest first."""

    name: str
    """`lever-34-C2-A6`."""
    title: str
    """For people: "34-string lever harp, C2 to A6, light stringing"."""
    kind: Literal["lever", "pedal", "none"]
    """How its strings are sharpened."""
    basis: Literal["measured", "generic estimate", "not given"]
    """Where lengths and gauges come from; an estimate never drives a purchase."""
    source: str
    """In words: where the figures come from."""
    strings: tuple[LayoutString, ...]
