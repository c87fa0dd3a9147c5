"""What to look at: faults that no recording shows, as a list of places and strings to check by eye, never a verdict.

Task. From the layout and what was heard of each string to a list: for each kind of string what commonly goes wrong with
it, and for single strings what their sound gives reason to look at first.

Method. Common practice, no source: what players and technicians look for. Nothing here is measured.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from analyzer.layout import Layout, LayoutString
from analyzer.survey import LookRow

WOUND = ("wire", "wound nylon")
PLAIN_WIRE = ("steel", "brass")


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What was heard of one string, as far as it gives a reason to look."""

    string: str
    missing: bool = False
    far_low: bool = False
    falls: bool = False
    dull: bool = False
    false: bool = False
    off_law: bool = False
    rattles: bool = False


SINGLE = (
    ("missing", "Not heard: is it there, and is a sharp loose end left at the pin or soundboard?"),
    ("far_low", "Far too low: is it the right string for this place, and do its knot and pin hold?"),
    ("falls", "Fell from pluck to pluck: does the pin turn back, or the knot draw through?"),
    ("rattles", "Buzzes: does it touch a lever, disc or neighbour, is a winding loose, does something on the harp?"),
    ("false", "Beats: is it uneven, kinked, twisted or worn at one place?"),
    ("off_law", "Partials out of line: is there a kink, a worn place or a loose winding?"),
    ("dull", "Dull: is it frayed, dirty, rusty or flattened?"),
)
"""Reasons to look at single strings, the most pressing first."""


def look_list(layout: Layout, strings: Sequence[Seen]) -> tuple[LookRow, ...]:
    """The list: single strings first, then each kind of string and the whole harp."""
    rows = [
        LookRow(strings=names, what=what)
        for flag, what in SINGLE
        if (names := tuple(h.string for h in strings if getattr(h, flag)))
    ]
    present = {h.string for h in strings if not h.missing}
    on = [s for s in layout.strings if s.string in present]
    return (*rows, *_kinds(layout, on))


def _kinds(layout: Layout, on: Sequence[LayoutString]) -> Iterable[LookRow]:
    def those(materials: Sequence[str]) -> tuple[str, ...]:
        return tuple(s.string for s in on if s.material in materials)

    stop = {"lever": "lever", "pedal": "disc", "none": ""}[layout.kind]
    kinds = (
        (WOUND, "Windings: open, loose, worn through or rusty, above all where they end near knot and pin."),
        (PLAIN_WIRE, "Plain wire: rust, kinks, and wear at the bridge pin."),
        (("gut",), "Gut: fraying, loose fibres, cracks, and places gone white or thin."),
        (("nylon", "carbon", "unknown"), "Plain strings: nicks, roughness and flat places."),
    )
    for materials, what in kinds:
        if names := those(materials):
            yield LookRow(strings=names, what=what)
    if stop and (names := tuple(s.string for s in on)):
        yield LookRow(strings=names, what=f"Where each {stop} touches the string: flattened, grooved or cut?")
    if on:
        yield LookRow(
            strings=tuple(s.string for s in on),
            what="Knots at the soundboard: do they sit firmly, or draw into the hole?",
        )
