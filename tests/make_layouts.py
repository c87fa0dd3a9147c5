"""Writes the built-in layouts: `python tests/make_layouts.py` regenerates `analyzer/layouts/*.toml`.

No string-by-string table of a harp's lengths, gauges or tensions is published that we found. These are
generic estimates, so that load can be shown at all; every file says so. From published figures where there
are any:

- Tension, pedal: 47 strings total 11 kN, between about 10 kN (encyclopedia) and 12 kN (Waltham, Acoustics
  Today, Fall 2005, p. 45). Falls evenly from the lowest string to 80 N at the top (judgement).
- Tension, lever, light: 36 strings of 15 to 60 lbf each, 900 lbf = 4.0 kN in all ("Structural Analysis of
  Folk Harps", 2005). 15 + 45·x^p lbf, x from 0 at C7 to 1 at C2, with the p that gives the published total.
- Tension, lever, heavy: light times a factor that puts the 36 strings' mean midway between the light lever
  harp's (111 N) and the concert harp's (234 N).
- Length: L = Lmax/(1 + (f/fc)^1.5)^(1/1.5): constant L·f in the treble, bending to Lmax in the bass, the
  shape that gives a harp its neck. Lmax and fc are judgement; they keep plain strings near half their
  breaking stress.
- Mass per metre from T = 4·µ·L²·f²; diameter of plain strings from their density; the steel core of a wire
  from a working stress of 1.0 GPa (judgement; 40 % of the breaking stress assumed for steel).
- Materials, pedal: wires C1–G2, gut, and nylon in octave 1 and above (Sibelius Academy; technician's guide).
  Lever, light: wires up to G2, wound nylon to G3, plain nylon (3–8 wires, wound nylon, plain: published;
  where they change: judgement). Lever, heavy: wires up to G2, gut, nylon in octave 1 (judgement).
- Lengths and tensions are those of the open strings: lever harps in E-flat, pedal harps in C-flat.
"""

import math
from pathlib import Path

from scipy.optimize import brentq

from analyzer.load import DENSITY_KG_PER_M3
from analyzer.notes import Note, note_at_step, parse_note

FOLDER = Path(__file__).parent.parent / "analyzer" / "layouts"
LBF_N = 4.4482216
PEDAL_TOTAL_N = 11_000.0
PEDAL_TOP_N = 80.0
LEVER_LIGHT_N = (15 * LBF_N, 60 * LBF_N)
LEVER_LIGHT_TOTAL_N = 900 * LBF_N
LENGTH_MAX_M = {"pedal": 1.55, "lever": 1.25}
LENGTH_CORNER_HZ = {"pedal": 129.0, "lever": 144.0}
LENGTH_BEND = 1.5
CORE_STRESS_PA = 1.0e9
STEPS = {
    "pedal": (parse_note("C1").step, parse_note("G7").step),
    "lever": (parse_note("C2").step, parse_note("C7").step),
}
"""The strings whose tensions are published in sum."""

RANGES = {
    "lever": ("C4-C7", "C3-C6", "C3-G6", "C3-A6", "G2-E6", "G2-G6", "C2-G6", "C2-A6", "C2-C7", "A1-C7"),
    "pedal": ("A1-E7", "G1-D7", "D1-E7", "D1-G7", "C1-G7"),
}
PUBLISHED_RANGES = ("D1-E7", "D1-G7", "C1-G7")
UNCONFIRMED_RANGES = ("G2-G6", "C2-G6", "A1-E7", "G1-D7")


def lever_bend() -> float:
    """The p of the light tension curve that gives the published total of the 36-string harp."""
    return brentq(lambda p: sum(light_n(step / 35, p) for step in range(36)) - LEVER_LIGHT_TOTAL_N, 0.5, 20.0)


def light_n(x: float, p: float) -> float:
    """Light lever tension, x = 0 at C7 and 1 at C2; never above the highest published."""
    low, high = LEVER_LIGHT_N
    return low + (high - low) * min(max(x, 0.0), 1.0) ** p


def tension_n(kind: str, heavy: bool, step: int) -> float:
    """Tension at pitch of the string that many white keys above C0."""
    bottom, top = STEPS[kind]
    x = (top - step) / (top - bottom)
    if kind == "pedal":
        mean_n = PEDAL_TOTAL_N / 47
        return PEDAL_TOP_N + 2 * (mean_n - PEDAL_TOP_N) * x
    middle = (LEVER_LIGHT_TOTAL_N / 36 + PEDAL_TOTAL_N / 47) / 2
    return light_n(x, lever_bend()) * (middle / (LEVER_LIGHT_TOTAL_N / 36) if heavy else 1.0)


def length_m(kind: str, f_hz: float) -> float:
    """The scaling curve."""
    return LENGTH_MAX_M[kind] / (1 + (f_hz / LENGTH_CORNER_HZ[kind]) ** LENGTH_BEND) ** (1 / LENGTH_BEND)


def material(kind: str, heavy: bool, step: int) -> str:
    """What the string is made of."""
    if step <= parse_note("G2").step:
        return "wire"
    if kind == "lever" and not heavy:
        return "wound nylon" if step <= parse_note("G3").step else "nylon"
    return "nylon" if step >= parse_note("F6").step else "gut"


def open_hz(kind: str, note: Note) -> float:
    """The open string's usual pitch: E-flat major on a lever harp, C-flat major on a pedal harp."""
    flat = kind == "pedal" or note.letter in "EAB"
    return Note(letter=note.letter, accidental=-int(flat), octave=note.octave).hz()


def row(kind: str, heavy: bool, step: int) -> str:
    """One string as an inline table."""
    note = note_at_step(step)
    f_hz, tension = open_hz(kind, note), tension_n(kind, heavy, step)
    length, stuff = length_m(kind, f_hz), material(kind, heavy, step)
    mass = tension / (2 * length * f_hz) ** 2
    cells = [f'string = "{note}"', f'material = "{stuff}"', f"length_mm = {1000 * length:.0f}"]
    if stuff in DENSITY_KG_PER_M3:
        cells.append(f"diameter_mm = {1000 * math.sqrt(4 * mass / (math.pi * DENSITY_KG_PER_M3[stuff])):.2f}")
    else:
        cells.append(f"mass_g_per_m = {1000 * mass:.2f}")
    if stuff == "wire":
        cells.append(f"core_diameter_mm = {1000 * math.sqrt(4 * tension / (math.pi * CORE_STRESS_PA)):.2f}")
    return "  { " + ", ".join(cells) + " },"


def layout_file(kind: str, span: str, heavy: bool) -> tuple[str, str]:
    """Name and text of one layout."""
    low, high = span.split("-")
    steps = range(parse_note(low).step, parse_note(high).step + 1)
    stringing = {"pedal": "", "lever": ", heavy stringing" if heavy else ", light stringing"}[kind]
    name = f"{kind}-{len(steps)}-{span}" + ("-heavy" if heavy else "")
    unconfirmed = " (range unconfirmed, from memory)" if span in UNCONFIRMED_RANGES else ""
    known = "Range as published." if span in PUBLISHED_RANGES else "Range from memory."
    title = f"{len(steps)}-string {kind} harp, {low} to {high}{stringing}{unconfirmed}"
    total = "47 strings total 11 kN" if kind == "pedal" else f"36 strings total {6.2 if heavy else 4.0} kN"
    source = (
        f"{known} Lengths and gauges are derived, for no table is published: a scaling curve for length,"
        f" tensions such that {total}."
    )
    text = f"""\
# {title}.
# Derived by tests/make_layouts.py.
# Lengths and gauges are generic estimates, not those of any one harp: replace them by what you measure and
# set basis to "measured". A string that you know nothing of needs only its name: {{ string = "C4" }}.
# length_mm is that of the open string (lever off, pedal flat), diameter_mm its thickness.
# material: gut, nylon, carbon, wire, steel, brass, wound nylon or unknown. Wound ones (wire, wound nylon)
# are known by mass_g_per_m and core_diameter_mm, plain ones by diameter_mm. C is red and F black unless a row has
# colour = "red", "black", "blue" or "plain".
name = "{name}"
title = "{title}"
kind = "{kind}"
basis = "generic estimate"
source = "{source}"

strings = [ # lowest first
"""
    return name, text + "\n".join(row(kind, heavy, step) for step in steps) + "\n]\n"


def all_files() -> dict[str, str]:
    """File name -> text of every built-in layout."""
    made = [
        layout_file(kind, span, heavy)
        for kind, spans in RANGES.items()
        for span in spans
        for heavy in ((False, True) if kind == "lever" else (False,))
    ]
    return {f"{name}.toml": text for name, text in made}


if __name__ == "__main__":
    for name, text in all_files().items():
        (FOLDER / name).write_text(text, encoding="utf-8", newline="\n")
