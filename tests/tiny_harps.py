"""Recordings of invented harps of ten strings, ten seconds each, for tests of many."""

from pathlib import Path

import numpy as np
import soundfile

from tests.synth_harp import HarpSpec, harp_recording, harp_strings

LOWEST, HIGHEST = "C4", "E5"


def write_layout(folder: Path) -> Path:
    """The layout of these harps."""
    rows = "".join(f'  {{ string = "{name}" }},\n' for name, _ in harp_strings(LOWEST, HIGHEST))
    path = folder / "tiny.toml"
    path.write_text(f'kind = "lever"\nname = "tiny-10"\nstrings = [\n{rows}]\n', encoding="utf-8")
    return path


def write_recording(path: Path, seed: int, **spec: object) -> Path:
    """One harp's recording; another seed is another harp."""
    take = harp_recording(
        HarpSpec(
            **{
                "strings": harp_strings(LOWEST, HIGHEST),
                "slack_cents": -30.0 - 4 * seed,
                "gap_s": (0.9, 1.1),
                "rate_hz": 22050,
                "room_t60_s": None,
                **spec,
            }
        ),
        np.random.default_rng(seed),
    )
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, take.samples, take.rate_hz)
    return path


def write_collection(folder: Path, count: int) -> Path:
    """A folder of so many harps, named `harp 00` and on."""
    for k in range(count):
        write_recording(folder / f"harp {k:02d}.flac", k)
    return folder
