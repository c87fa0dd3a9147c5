"""Two takes of an invented harp, with other plucks, rooms and recorders: what `changes` claims to see.

Run `python -m tests.bench.takes [HARPS]` from the repository. In the first rows nothing changed between the takes, so
that every change shown is a false one: 5 in 100 are what the intervals promise. In the others five strings of the later
take are damped twice as much: how many of them are shown to ring shorter.
"""

import sys
import tempfile
from pathlib import Path

import numpy as np
import soundfile

from analyzer.changes import Pair, compare
from analyzer.layout import load_layout
from analyzer.pipeline import analyze
from analyzer.request import Request
from analyzer.settings import Settings
from analyzer.survey import Survey
from analyzer.tuning import make_tuning
from tests import synth_harp

WAYS = (
    {"snr_db": 50.0, "order": "up"},
    {"snr_db": 38.0, "room_t60_s": 0.5, "phone": True, "order": "down"},
    {"snr_db": 32.0, "room_t60_s": 0.8, "phone": True, "gain_control": False, "order": "up"},
)


DULLED = ("F2", "D3", "A3", "C5", "E5")


def take(harp: int, way: int, folder: Path, *, dulled: bool = False) -> Survey:
    """The survey of one recording of that harp, made that way."""
    own = synth_harp._own_specs
    dull = dict.fromkeys(DULLED if dulled else (), 2.0)
    spec = synth_harp.HarpSpec(slack_cents=-30.0, scatter_cents=8.0, drift_cents=10.0, dull=dull, **WAYS[way])
    try:
        synth_harp._own_specs = lambda s, _: own(s, np.random.default_rng(harp))  # one harp, many plucks
        sound = synth_harp.harp_recording(spec, np.random.default_rng(1000 + 10 * harp + way + 5 * dulled))
    finally:
        synth_harp._own_specs = own
    path = folder / f"{harp}-{way}.wav"
    soundfile.write(path, sound.samples, sound.rate_hz)
    layout = load_layout("lever-34-C2-A6")
    tuning = make_tuning(layout, "E-flat", levers="off")
    return analyze(
        Request(recordings=(path,), layout=layout, tuning=tuning, missing=frozenset(), date=f"2026-03-0{way + 1}"),
        Settings(),
    )


def show(name: str, pairs: list[Pair]) -> None:
    rows = [row for pair in pairs for row in pair.strings]
    said = [row for row in rows if row.changed is not None]
    decays = [row for row in rows if row.decay_ratio is not None]
    longer = [r for r in decays if abs(np.log(r.decay_ratio)) > np.log(r.decay_ratio_u95)]
    brights = [r for r in rows if r.brightness_change_db is not None]
    brighter = [r for r in brights if abs(r.brightness_change_db) > r.brightness_u95_db]
    print(
        f"{name:<22} strings {len(rows)}  compared {len(said)}  no change shown"
        f" {1 - np.mean([r.changed for r in said]):.3f}  median u95 {np.median([r.change_u95 for r in said]):.2f}"
        f"  decay changed {len(longer) / len(decays):.3f} of {len(decays)}"
        f"  brightness {len(brighter) / len(brights):.3f} of {len(brights)}"
        f"  worse or better {sum(r.effect in ('better', 'worse') for r in rows)}"
        f"  new {sum(r.new_string != '' for r in rows)}  replaced {sum(r.perhaps_replaced for r in rows)}",
        flush=True,
    )


def show_dulled(name: str, pairs: list[Pair]) -> None:
    rows = [r for pair in pairs for r in pair.strings if r.string in DULLED and r.decay_ratio is not None]
    shorter = [r for r in rows if r.decay_ratio * r.decay_ratio_u95 < 1]
    others = [r for p in pairs for r in p.strings if r.string not in DULLED and r.decay_ratio is not None]
    wrong = [r for r in others if abs(np.log(r.decay_ratio)) > np.log(r.decay_ratio_u95)]
    by_string = " ".join(f"{s} {sum(r.string == s for r in shorter)}" for s in DULLED)
    print(
        f"{name:<22} shown to ring shorter {len(shorter) / len(rows):.2f} of {len(rows)} ({by_string})"
        f"  others changed {len(wrong) / len(others):.3f} of {len(others)}",
        flush=True,
    )


def main() -> None:
    harps_n = int(sys.argv[1]) if len(sys.argv) > 1 else 6
    found: dict[tuple[int, int], list[Pair]] = {(0, 1): [], (0, 2): [], (1, 2): []}
    damped: dict[tuple[int, int], list[Pair]] = {(0, 1): [], (0, 2): [], (1, 2): []}
    with tempfile.TemporaryDirectory() as folder:
        for harp in range(harps_n):
            takes = [take(harp, way, Path(folder)) for way in range(len(WAYS))]
            for first, second in found:
                found[first, second] += compare((takes[first], takes[second]))
            later = {way: take(harp, way, Path(folder), dulled=True) for way in (1, 2)}
            for first, second in damped:
                damped[first, second] += compare((takes[first], later[second]))
    for (first, second), pairs in found.items():
        show(f"way {first} against {second}", pairs)
    for (first, second), pairs in damped.items():
        show_dulled(f"way {first} against {second}", pairs)


if __name__ == "__main__":
    main()
