"""Layouts: which strings a harp has, as TOML files, built in or one's own.

Task: a name or a path -> Layout, checked so strictly that no later stage needs to. Every problem of a file is
one plain sentence that names the file and the string.

Conventions: strings lowest first, one for every letter without a gap (a string that is not on the harp today
keeps its row); names without accidental (`E4`); lengths and diameters in mm, mass in grams per metre. C
strings are red and F strings black or blue (common to lever and pedal harps) unless a row says otherwise.

Names: `lever-34-C2-A6` is kind, count, lowest and highest string; `-heavy` after it is the same harp with
heavy stringing, `-light` may be written for the usual one. Where a count has one usual range, `lever-34` is
enough.
"""

import errno
import itertools
import tomllib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, Literal, get_args

import msgspec

from analyzer.errors import UnusableInput
from analyzer.json_files import read_bounded
from analyzer.notes import harp_octave, nearest, note_at_step, parse_note
from analyzer.settings import LayoutSettings

Material = Literal["gut", "nylon", "carbon", "wire", "steel", "brass", "wound nylon", "unknown"]
Colour = Literal["red", "black", "blue", "plain"]
Basis = Literal["measured", "generic estimate", "not given"]

_DEFAULTS = LayoutSettings()
_FOLDER = Path(__file__).parent / "layouts"


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutString:
    """One string of a layout."""

    string: str
    """`C4`: letter and octave, no accidental."""
    material: Material
    """`wire` and `wound nylon` are wound; `steel` and `brass` are plain wire."""
    length_mm: float | None = None
    """Vibrating length of the open string (lever off, pedal flat)."""
    diameter_mm: float | None = None
    mass_g_per_m: float | None = None
    """Mass per metre; for wound strings the only way to know the tension."""
    core_diameter_mm: float | None = None
    """Core of a wound string: what carries the load."""
    colour: Colour = "plain"


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A harp's strings, lowest first."""

    name: str
    """`lever-34-C2-A6`."""
    title: str
    """For people: "34-string lever harp, C2 to A6, light stringing"."""
    kind: Literal["lever", "pedal", "none"]
    """How its strings are sharpened."""
    basis: Basis
    """Where lengths and gauges come from; an estimate never drives a purchase."""
    source: str
    """In words: where the figures come from."""
    strings: tuple[LayoutString, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Head:
    """The lines above the strings in a layout file."""

    kind: Literal["lever", "pedal", "none"]
    name: str = ""
    title: str = ""
    basis: Basis = "not given"
    source: str = ""
    strings: list[dict[str, Any]] = field(default_factory=list)


def string_colour(letter: str) -> Colour:
    """The usual colour: C red, F black (or blue), the others plain."""
    match letter:
        case "C":
            return "red"
        case "F":
            return "black"
    return "plain"


def load_layout(name_or_path: str, settings: LayoutSettings = _DEFAULTS) -> Layout:
    """The built-in layout of that name, or the one in that TOML file.

    Raises UnusableInput: an unknown name (with the nearest), a name that fits several ranges (with all of
    them), a file that cannot be read or has a problem (the first one, and how many more there are).
    """
    path = Path(name_or_path)
    if path.suffix.lower() == ".toml" or len(path.parts) > 1 or _is_file(path):
        layout, problems = _read(path, settings)
        if layout is None:
            more = f" ({len(problems) - 1} more in this file)" if len(problems) > 1 else ""
            raise UnusableInput(problems[0] + more)
        return layout
    return _built_in(name_or_path, settings)


def _is_file(path: Path) -> bool:
    """Whether there is such a file; not where the name is none that a file could have."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def check_layout(path: Path, settings: LayoutSettings = _DEFAULTS) -> tuple[str, ...]:
    """Every problem of a layout file, a plain sentence each; none when it can be used."""
    return _read(path, settings)[1]


def layout_names() -> tuple[str, ...]:
    """Names of the built-in layouts: lever before pedal, small before large."""
    return tuple(sorted((p.stem for p in _FOLDER.glob("*.toml")), key=lambda n: (n[:5], int(n.split("-")[1]), n)))


def list_layouts() -> tuple[Layout, ...]:
    """All built-in layouts, in the order of `layout_names`."""
    return tuple(load_layout(str(_FOLDER / f"{name}.toml")) for name in layout_names())


def describe_layouts() -> tuple[str, ...]:
    """Lines of text that list the built-in layouts with their short names."""
    layouts = list_layouts()
    width = max(len(layout.name) for layout in layouts)
    lines = []
    for layout in layouts:
        short = "-".join(layout.name.split("-")[:2])
        also = f" (also {short})" if _usual(short) == [layout.name] and "heavy" not in layout.name else ""
        lines.append(f"{layout.name:<{width}}  {layout.title}{also}")
    return (
        *lines,
        "",
        f"The built-in files are in {_FOLDER}.",
        "Their lengths and gauges are generic estimates. Your own layout is a TOML file of the same form:",
        "copy the nearest to your harp, put in what you measure, and give its path in place of the name.",
    )


def describe_layout(layout: Layout) -> tuple[str, ...]:
    """Lines of text that show one layout, from the lowest string; an empty place is a figure not known."""
    lines = [
        f"{layout.name}: {layout.title}",
        f"kind: {layout.kind}; lengths and gauges: {layout.basis}",
        *([f"source: {layout.source}"] if layout.source else []),
        "",
        f"{'string':<8}{'harp':<6}{'colour':<8}{'material':<13}"
        f"{'length mm':>10}{'diameter mm':>13}{'g/m':>9}{'core mm':>9}",
    ]
    for s in layout.strings:
        length, diameter = _figure(s.length_mm, 0), _figure(s.diameter_mm, 2)
        mass, core = _figure(s.mass_g_per_m, 2), _figure(s.core_diameter_mm, 2)
        lines.append(
            f"{s.string:<8}{harp_octave(s.string):<6}{s.colour:<8}{s.material:<13}"
            f"{length:>10}{diameter:>13}{mass:>9}{core:>9}".rstrip()
        )
    return tuple(lines)


def _figure(value: float | None, digits: int) -> str:
    """A number with that many digits after the dot, empty where there is none."""
    return "" if value is None else f"{value:.{digits}f}"


def _usual(short: str) -> list[str]:
    """The built-in names that a short name may mean; heavy stringing has to be asked for."""
    return [n for n in layout_names() if n.startswith(f"{short}-") and not n.endswith("-heavy")]


def _built_in(name: str, settings: LayoutSettings) -> Layout:
    """A built-in layout by its name or short name."""
    names = layout_names()
    by_lower = {n.lower(): n for n in names}
    wanted = "-".join(name.lower().split())
    heavy = wanted.endswith("-heavy")
    bare = wanted.removesuffix("-heavy").removesuffix("-light")
    ranges = _usual(bare)
    if len(ranges) > 1:
        raise UnusableInput(f"layout {name!r} may be {' or '.join(ranges)}; name the one whose range is your harp's.")
    full = (ranges[0].lower() if ranges else bare) + ("-heavy" if heavy else "")
    if full not in by_lower or (wanted.endswith("-light") and f"{full}-heavy" not in by_lower):
        shorts = {"-".join(n.split("-")[:2]) for n in names}
        hint = nearest(wanted, (*names, *sorted(shorts)))
        kinds = ", ".join(sorted(shorts, key=lambda s: (s[:5], int(s.split("-")[1]))))
        raise UnusableInput(f"unknown layout {name!r}; built in are {kinds}, or give the path of a TOML file.{hint}")
    return load_layout(str(_FOLDER / f"{by_lower[full]}.toml"), settings)


def _read(path: Path, settings: LayoutSettings) -> tuple[Layout | None, tuple[str, ...]]:
    """The layout in a file, or None and what is wrong with it."""
    try:
        text = read_bounded(path, settings.file_limit_bytes).decode("utf-8-sig")
        if any(line.count(".") > settings.dots_n for line in text.splitlines()):
            return None, (f"{path}: not valid TOML (a key of too many parts).",)
        table = tomllib.loads(text)
    except UnicodeDecodeError:
        return None, (f"{path}: not UTF-8 text, so not a layout; save it as UTF-8.",)
    except (tomllib.TOMLDecodeError, RecursionError) as e:
        return None, (f"{path}: not valid TOML ({e}).",)
    except (OSError, ValueError) as e:  # ValueError: an integer of thousands of digits
        if getattr(e, "errno", None) == errno.EFBIG:
            return None, (f"{path}: larger than any layout ({settings.file_limit_bytes} bytes); name another file.",)
        why = getattr(e, "strerror", None) or e
        return None, (f"{path}: cannot be read ({why}); give a layout's TOML file or a built-in name.",)
    layout, problems = _checked(table, path.stem, settings)
    return layout, tuple(f"{path}: {problem}" for problem in problems)


def _checked(table: dict[str, Any], stem: str, settings: LayoutSettings) -> tuple[Layout | None, list[str]]:
    """The layout that the keys and values of a file make, or None and what is wrong with them."""
    if unknown := _unknown_keys(table, [f.name for f in fields(_Head)]):
        return None, unknown
    try:
        head = msgspec.convert(table, _Head)
    except msgspec.ValidationError as e:
        return None, [_plain(e)]
    if not 1 <= len(head.strings) <= settings.strings_limit_n:
        return None, [f"{len(head.strings)} strings; list 1 to {settings.strings_limit_n} under strings = [...]."]
    strings: list[LayoutString] = []
    problems: list[str] = []
    for number, row in enumerate(head.strings, start=1):
        string, wrong = _string(row, settings)
        strings.extend([string] if string else [])
        problems.extend(f"string {row.get('string', f'in row {number}')}: {problem}" for problem in wrong)
    problems = problems or _order_problems(strings)
    if problems:
        return None, problems
    title = head.title or f"{len(strings)}-string harp, {strings[0].string} to {strings[-1].string}"
    return Layout(
        name=head.name or stem,
        title=title,
        kind=head.kind,
        basis=head.basis,
        source=head.source,
        strings=tuple(strings),
    ), []


def _string(row: dict[str, Any], settings: LayoutSettings) -> tuple[LayoutString | None, list[str]]:
    """One string of a file, or None and what is wrong with it."""
    if unknown := _unknown_keys(row, [f.name for f in fields(LayoutString)]):
        return None, unknown
    materials = get_args(Material)
    material = str(row.get("material", "unknown"))
    if material not in materials:
        hint = nearest(material, materials)
        return None, [f"unknown material {material!r}; it may be {', '.join(materials)}.{hint}"]
    try:
        note = parse_note(str(row.get("string", "")))
        given = {"material": material, "colour": string_colour(note.letter), **row, "string": str(note)}
        string = msgspec.convert(given, LayoutString)
    except UnusableInput as e:
        return None, [str(e)]
    except msgspec.ValidationError as e:
        return None, [_plain(e)]
    limits = {
        "length_mm": settings.length_limit_mm,
        "diameter_mm": settings.diameter_limit_mm,
        "mass_g_per_m": settings.mass_limit_g_per_m,
        "core_diameter_mm": settings.diameter_limit_mm,
    }
    wrong = [
        f"{name} = {value:g} is not between 0 and {limit:g}; correct it, or leave it out if it is not known."
        for name, limit in limits.items()
        if (value := getattr(string, name)) is not None and not 0 < value <= limit
    ]
    if note.accidental:
        wrong.append(f"a string is named by letter and octave; write {note.letter}{note.octave}.")
    core_mm, outer_mm = string.core_diameter_mm, string.diameter_mm
    if core_mm is not None and outer_mm is not None and core_mm > outer_mm:
        wrong.append(f"its core ({core_mm:g} mm) is thicker than the whole ({outer_mm:g} mm); correct one of them.")
    return (None if wrong else string), wrong


def _order_problems(strings: Sequence[LayoutString]) -> list[str]:
    """Duplicates, strings out of order, and letters left out."""
    counts = Counter(s.string for s in strings)
    problems = [f"string {s} is listed {n} times; keep one row." for s, n in counts.items() if n > 1]
    for low, high in itertools.pairwise(s.string for s in strings):
        low_step, high_step = parse_note(low).step, parse_note(high).step
        if high_step < low_step:
            problems.append(f"string {high} comes after {low} but is lower; list the lowest string first.")
        elif high_step > low_step + 1:
            problems.append(
                f"string {note_at_step(low_step + 1)} is left out between {low} and {high}; give it a row, as"
                " a harp has every letter (say --missing for a string that is not there now)."
            )
    return problems


def _unknown_keys(table: dict[str, Any], known: list[str]) -> list[str]:
    """A sentence for each key that is not known."""
    return [
        f"unknown key {key!r}; known are {', '.join(known)}.{nearest(key, known)}" for key in table if key not in known
    ]


def _plain(error: msgspec.ValidationError) -> str:
    """msgspec's message as a sentence: its path notation put into words."""
    text = str(error).replace("Object missing required field", "there is no line for")
    text = text.replace(" - at `$.", " in `").replace("`", "'")
    return f"{text}; 'harp-survey layouts' shows the form of a layout."
