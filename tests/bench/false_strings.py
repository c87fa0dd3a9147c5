"""False strings in whole recordings: which are called so, and how well the rates at which they beat are told.

Run `python -m tests.bench.false_strings [HARPS]` from the repository: HARPS harps of 34 strings (default 6) for each
kind of recording, fixed seeds, some four seconds a harp. Five strings of each beat 0.3 to 5 times a second at their
first partial, the weaker tone 4 dB down; the others' planes are up to 2 cents apart, 8 to 20 dB down.

Columns: called false, or to be checked by hand, of those that beat clearly (twice what the settings take for usual on
any harp) and of the rest; sound strings called false, to be checked for their beats; of all false strings, those of
which a rate is told, the largest error in Hz, how many are beyond 0.05 Hz, and how many intervals hold the truth.
"""

import sys
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import soundfile

from analyzer.layout import load_layout
from analyzer.pipeline import analyze
from analyzer.request import Request
from analyzer.settings import Settings
from analyzer.tuning import make_tuning
from tests.synth_harp import HarpSpec, harp_recording, harp_strings

SETTINGS = Settings()
STRINGS = harp_strings("C2", "A6", flats="BEA")
RATE_HZ = 22050
KINDS: Mapping[str, Mapping[str, Any]] = {"plain": {}, "phone": {"phone": True}, "ringing": {"ringing": True}}
FALSE_N = 5
WITHIN_HZ = 0.05


class Heard(NamedTuple):
    """One string."""

    clear: bool | None
    """Whether it beats clearly; None for a sound one."""
    called: bool
    checked: bool
    error_hz: float
    """Of the lowest partial that beats; NaN where none is told."""
    u95_hz: float


def harp(kind: str, seed: int) -> Iterator[Heard]:
    rng = np.random.default_rng([seed, 123])
    names = [name for name, _ in STRINGS]
    false = {names[k]: float(np.exp(rng.uniform(np.log(0.3), np.log(5)))) for k in rng.choice(28, FALSE_N, False)}
    take = harp_recording(HarpSpec(strings=STRINGS, false=false, rate_hz=RATE_HZ, **KINDS[kind]), rng)
    layout = load_layout("lever-34")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "harp.wav"
        soundfile.write(path, take.samples, take.rate_hz, subtype="PCM_16")
        tuning = make_tuning(layout, "E-flat", levers=None)
        survey = analyze(Request(recordings=(path,), layout=layout, tuning=tuning), SETTINGS)
    truths = {t.string: t.note for t in take.plucks}
    s = SETTINGS.falseness
    for row in survey.strings:
        p = row.false_probability or 0.0
        split_hz = false.get(row.string)
        usual_hz = max(s.usual_least_hz, truths[row.string].f1_hz * (2 ** (s.usual_least_cents / 1200) - 1))
        lowest = next((p for p in row.partials if p.beat_hz is not None), None)
        error_hz = u95_hz = np.nan
        if split_hz is not None and lowest is not None and lowest.beat_hz and lowest.beat_u95_hz:
            error_hz = lowest.beat_hz - truths[row.string].partials[lowest.number - 1].split_hz
            u95_hz = lowest.beat_u95_hz
        clear = None if split_hz is None else split_hz >= 2 * usual_hz
        yield Heard(clear, p >= s.call_false, s.check_false <= p < s.call_false, error_hz, u95_hz)


def main(harps: int) -> None:
    print(f"{'kind':8s} | clear: false, check | others       | sound: false, check | told, worst, beyond, held")
    for kind in KINDS:
        heard = [one for seed in range(harps) for one in harp(kind, seed)]
        groups = [[h for h in heard if h.clear is clear] for clear in (True, False, None)]
        called = [f"{sum(h.called for h in g):3d} {sum(h.checked for h in g):3d} of {len(g):4d}" for g in groups]
        told = [h for h in heard if not np.isnan(h.error_hz)]
        errors = np.abs([h.error_hz for h in told])
        held = np.mean([abs(h.error_hz) <= h.u95_hz for h in told])
        print(
            f"{kind:8s} | {called[0]}     | {called[1]} | {called[2]}"
            f"     | {len(told)} of {FALSE_N * harps}, {errors.max():.3f}, {np.sum(errors > WITHIN_HZ)}, {held:.2f}",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 6)
