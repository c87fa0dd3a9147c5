"""Load: tension, stress and stiffness of each string, and what the harp carries.

Task: from a layout, the targets and the measured deviations, each string's tension now and at pitch, as
newtons where the layout knows length and mass, else only as a share of its tension at pitch; the sums over
the harp and its octaves.

Conventions: SI units in the formulas (m, kg/m, N, Pa), mm and g/m in the layout, MPa for stress. "Full" means
at the string's target. The sums are sums of string tensions: strings meet the soundboard at an angle, so this
is not the load on the soundboard.

Method
- T = 4·µ·L²·f²; plain strings µ = π·ρ·d²/4, so stress = 4·ρ·(L·f)² whatever the diameter.
- A lever or pedal that is on shortens its string and leaves the tension: L is the open string's length
  shortened by 2^(−semitones/12).
- T2/T1 = (f2/f1)² = 2^(cents/600) at constant µ. Stretching changes µ slightly (Grimes, PLoS ONE 9 (2014)
  e102088, Eq. 6); not corrected.
- Stiff string f_n = n·f0·√(1 + B·n²), B = π³·E·d⁴/(64·T·L²) (Fletcher, JASA 36 (1964) 203).

Material values: gut E = 6.0 GPa, ρ = 1320; nylon bending E = 4.5 GPa + 39·stress, ρ = 1140 (Woodhouse &
Lynch-Aird, Acta Acustica 105 (2019) 516, as quoted elsewhere); music wire E = 207 GPa, ρ = 7800 (ASTM A228,
as quoted elsewhere).

Known limits: a wound string's mass and core cannot be derived, only given; its B counts the core alone (no
complete formula: Chumnantas, PhD, Edinburgh 1995), so it is a lower bound with a wide uncertainty.
"""

import itertools
import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from analyzer.layout import Basis, Layout, LayoutString, Material
from analyzer.notes import harp_octave
from analyzer.settings import LoadSettings
from analyzer.tuning import Target

LoadBasis = Literal["measured", "layout", "generic estimate", "share only"]

DENSITY_KG_PER_M3: Mapping[Material, float] = {
    "gut": 1320.0,
    "nylon": 1140.0,
    "carbon": 1780.0,  # fluorocarbon, from memory
    "steel": 7800.0,
    "brass": 8500.0,  # from memory
}
"""Plain materials only: a wound string has no density of its own."""

_MPA = 1e6
BREAKING_PA: Mapping[Material, float] = {
    "gut": 304 * _MPA,
    "nylon": 310 * _MPA,
    "steel": 2500 * _MPA,
    "wire": 2500 * _MPA,
}
"""Stress at which strings break, the lowest of what sources say. Gut of 0.40 mm breaks at L·f = 240 to 280
Hz·m, 260 in the mean (string maker's article): 304 to 414 MPa, 357 in the mean. Nylon: 90 % at 560 mm and A4
(a nylon string blog, 2020) gives 310; 450 is assumed elsewhere. Steel, on the core's area alone: 2.5 GPa, an
assumption found in program code. Other materials: no value found."""

_STEEL_E_PA = 207e9
_GUT_E_PA = 6.0e9
_NYLON_E_PA = 4.5e9
_NYLON_E_PER_STRESS = 39.0
_DEFAULTS = LoadSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class StringLoad:
    """One string's load."""

    string: str
    tension_n: float | None
    """Now, N; None where the string was not heard or the layout does not let it be known."""
    full_tension_n: float | None
    """At its target, N."""
    share: float | None
    """Tension now over full tension, from the deviation alone; None where the string was not heard."""
    basis: LoadBasis
    """Where the newtons come from: `measured` (the layout says its figures are), `layout` (figures of
    unstated origin), `generic estimate`, or `share only` (no newtons)."""
    stress_mpa: float | None
    """At its target; of the core where the string is wound."""
    breaking_share: float | None
    """That stress over the material's breaking stress."""
    near_breaking: bool
    """At its target, or now where that is more, it stands close to breaking."""
    remark: str
    """A short sentence, or empty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadSum:
    """The load of several strings together."""

    name: str
    """`whole harp`, or `octave 7 (C1 to E1)`."""
    strings_n: int
    heard_n: int
    tension_n: float | None
    """Sum over the strings heard, N; None unless every string's full tension is known."""
    full_tension_n: float | None
    """Sum over all strings at their targets, N; None unless every one is known."""
    share: float
    """Tension now over full tension, a string not heard counting as none; where newtons are not known, the
    mean of the strings' shares."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HarpLoad:
    """What a harp carries."""

    strings: tuple[StringLoad, ...]
    """Lowest first."""
    octaves: tuple[LoadSum, ...]
    """By the harp's own octaves, lowest first."""
    whole: LoadSum


def tension_n(length_m: float, mass_kg_per_m: float, f_hz: float) -> float:
    """T = 4·µ·L²·f²."""
    return 4 * mass_kg_per_m * (length_m * f_hz) ** 2


def plain_mass_kg_per_m(diameter_m: float, density_kg_per_m3: float) -> float:
    """Mass per metre of a plain round string, µ = π·ρ·d²/4."""
    return math.pi * density_kg_per_m3 * diameter_m**2 / 4


def plain_stress_pa(length_m: float, density_kg_per_m3: float, f_hz: float) -> float:
    """Stress of a plain string, 4·ρ·(L·f)²: independent of its diameter."""
    return 4 * density_kg_per_m3 * (length_m * f_hz) ** 2


def inharmonicity_b(bending_n_m2: float, tension_n: float, length_m: float) -> float:
    """B = π²·E·I/(T·L²), from the bending stiffness E·I."""
    return math.pi**2 * bending_n_m2 / (tension_n * length_m**2)


def bending_n_m2(modulus_pa: float, diameter_m: float) -> float:
    """Bending stiffness E·I of a round section, I = π·d⁴/64."""
    return modulus_pa * math.pi * diameter_m**4 / 64


def share_of_full(off_cents: float) -> float:
    """Tension as a share of that at pitch, 2^(cents/600)."""
    return float(2 ** (off_cents / 600))


def sounding(string: LayoutString, raised_semitones: int) -> LayoutString:
    """The string as its lever or pedal leaves it: shorter by 2^(−semitones/12)."""
    if string.length_mm is None or not raised_semitones:
        return string
    return replace(string, length_mm=string.length_mm * 2 ** (-raised_semitones / 12))


def string_mass_kg_per_m(string: LayoutString) -> float | None:
    """Mass per metre: the layout's, or that of a plain string of its diameter; None where neither is known."""
    if string.mass_g_per_m is not None:
        return string.mass_g_per_m / 1000
    density = DENSITY_KG_PER_M3.get(string.material)
    if string.diameter_mm is None or density is None:
        return None
    return plain_mass_kg_per_m(string.diameter_mm / 1000, density)


def string_tension_n(string: LayoutString, f_hz: float) -> float | None:
    """Tension of a layout's string at a frequency; None where its length or mass is not known."""
    mass = string_mass_kg_per_m(string)
    if mass is None or string.length_mm is None:
        return None
    return tension_n(string.length_mm / 1000, mass, f_hz)


def string_stress_pa(string: LayoutString, f_hz: float) -> float | None:
    """Stress at a frequency of what carries the load: a wound string's core, a plain string's whole section."""
    density = DENSITY_KG_PER_M3.get(string.material)
    if density is None:
        tension = string_tension_n(string, f_hz)
        if tension is None or string.core_diameter_mm is None:
            return None
        return tension / (math.pi * (string.core_diameter_mm / 1000) ** 2 / 4)
    return None if string.length_mm is None else plain_stress_pa(string.length_mm / 1000, density, f_hz)


def expected_inharmonicity(
    string: LayoutString,
    f_hz: float,
    *,
    raised_semitones: int = 0,
    basis: Basis = "generic estimate",
    settings: LoadSettings = _DEFAULTS,
) -> tuple[float, float] | None:
    """B of a layout's string sounding at `f_hz`, with its relative standard uncertainty (0.8: ± 80 %).

    `raised_semitones` by lever or pedal, as its `Target` says; `basis` is the layout's. None where length,
    mass, load-bearing diameter or modulus is not known. From the core alone for a wire.
    """
    string = sounding(string, raised_semitones)
    tension, stress = string_tension_n(string, f_hz), string_stress_pa(string, f_hz)
    wound = string.material not in DENSITY_KG_PER_M3
    diameter_mm = string.core_diameter_mm if wound else string.diameter_mm
    if tension is None or stress is None or diameter_mm is None or string.length_mm is None:
        return None
    modulus = _modulus_pa(string.material, stress)
    if modulus is None:
        return None
    b = inharmonicity_b(bending_n_m2(modulus, diameter_mm / 1000), tension, string.length_mm / 1000)
    known = basis == "measured"
    length_share = settings.measured_length_share if known else settings.generic_length_share
    diameter_share = settings.measured_diameter_share if known else settings.generic_diameter_share
    # B ~ E·d⁴/(T·L²) with T ~ µ·L²·f²; a plain string's µ ~ d² leaves d², a wound one's core is apart from its mass
    terms = [settings.modulus_share, 4 * length_share, (4 if wound else 2) * diameter_share]
    return b, math.hypot(*terms, settings.wound_share if wound else 0.0)


def harp_load(
    layout: Layout,
    targets: Sequence[Target],
    cents_by_string: Mapping[str, float | None],
    settings: LoadSettings = _DEFAULTS,
) -> HarpLoad:
    """Load of every string and of the harp; a string without cents was not heard.

    `targets` has one target for each string of the layout.
    """
    target = {t.string: t for t in targets}
    strings = [sounding(s, target[s.string].raised_semitones) for s in layout.strings]
    full = [string_tension_n(s, target[s.string].target_hz) for s in strings]
    rows = tuple(
        _string_load(
            s,
            target[s.string].target_hz,
            cents_by_string.get(s.string),
            layout.basis,
            _odd(full, i, settings),
            settings,
        )
        for i, s in enumerate(strings)
    )
    octaves = []
    for number, group in itertools.groupby(rows, key=lambda row: harp_octave(row.string)[:-1]):
        inside = tuple(group)
        octaves.append(_sum(f"octave {number} ({inside[0].string} to {inside[-1].string})", inside))
    return HarpLoad(strings=rows, octaves=tuple(octaves), whole=_sum("whole harp", rows))


def _string_load(
    string: LayoutString,
    target_hz: float,
    off_cents: float | None,
    layout_basis: Basis,
    odd: str,
    settings: LoadSettings,
) -> StringLoad:
    """One row."""
    full_n = string_tension_n(string, target_hz)
    share = None if off_cents is None else share_of_full(off_cents)
    stress_pa = string_stress_pa(string, target_hz)
    breaking_pa = BREAKING_PA.get(string.material)
    breaking_share = None if stress_pa is None or breaking_pa is None else stress_pa / breaking_pa
    highest = None if breaking_share is None else breaking_share * max(1.0, share or 0.0)
    near = highest is not None and highest >= settings.near_breaking_share
    basis: LoadBasis = "layout" if layout_basis == "not given" else layout_basis
    remarks = [odd] if odd else []
    if near and highest is not None:
        when = "now" if share and share > 1 else "at pitch"
        remarks.append(f"close to breaking: {when} at {highest:.0%} of what its material bears.")
    return StringLoad(
        string=string.string,
        tension_n=None if full_n is None or share is None else full_n * share,
        full_tension_n=full_n,
        share=share,
        basis="share only" if full_n is None else basis,
        stress_mpa=None if stress_pa is None else stress_pa / _MPA,
        breaking_share=breaking_share,
        near_breaking=near,
        remark=" ".join(remarks),
    )


def _odd(full: Sequence[float | None], place: int, settings: LoadSettings) -> str:
    """A sentence where a string's full tension is far from its neighbours', else empty."""
    own = full[place]
    reach = range(max(0, place - settings.neighbours_n), min(len(full), place + settings.neighbours_n + 1))
    near = [t for i in reach if i != place and (t := full[i]) is not None]
    if own is None or len(near) < settings.neighbours_n:
        return ""
    ratio = own / statistics.median(near)
    if 1 / settings.odd_tension_ratio <= ratio <= settings.odd_tension_ratio:
        return ""
    return f"its full tension is {ratio:.1f} times its neighbours': is its gauge, or the layout's figure, wrong?"


def _sum(name: str, rows: Sequence[StringLoad]) -> LoadSum:
    """The rows added up."""
    fulls = [r.full_tension_n for r in rows if r.full_tension_n is not None]
    complete = len(fulls) == len(rows)
    now_n = sum(r.tension_n or 0.0 for r in rows)
    return LoadSum(
        name=name,
        strings_n=len(rows),
        heard_n=sum(r.share is not None for r in rows),
        tension_n=now_n if complete else None,
        full_tension_n=sum(fulls) if complete else None,
        share=now_n / sum(fulls) if complete else statistics.fmean(r.share or 0.0 for r in rows),
    )


def _modulus_pa(material: Material, stress_pa: float) -> float | None:
    """Young's modulus in bending of what carries the load."""
    match material:
        case "gut":
            return _GUT_E_PA
        case "nylon":
            return _NYLON_E_PA + _NYLON_E_PER_STRESS * stress_pa
        case "steel" | "wire":
            return _STEEL_E_PA
    return None
