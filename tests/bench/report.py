"""How large the reports are, and how long they take: `python -m tests.bench.report`.

A 47-string harp, synthetic, with clips: the page, the paper, and all files of a survey (tables, figures, page, paper)
written after the analysis. Times are those of the processor, once cold (imports included) and once warm, because the
wall clock of a shared machine says little.
"""

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile

from analyzer.cli import parser
from analyzer.cli.analyze import analyzed, write
from tests.synth_harp import HarpSpec, harp_recording, harp_strings

SPEC = HarpSpec(strings=harp_strings("C1", "G7"), gap_s=(3.0, 4.5), dull={"F3": 2.5, "A4": 2.5})


def seconds(work: Callable[[], object]) -> float:
    """Of the processor."""
    start_s = time.process_time()
    work()
    return time.process_time() - start_s


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        take = harp_recording(SPEC, np.random.default_rng(0))
        recording = folder / "harp.flac"
        soundfile.write(recording, take.samples, take.rate_hz)
        words = ["analyze", str(recording), "--layout", "pedal-47", "--tuning", "C", "--pedals", "natural"]
        words += ["--missing", "none", "--out", str(folder / "out")]
        survey = analyzed(parser().parse_args(words))
        for what in ("cold", "warm"):
            page_s = seconds(lambda: write(survey, folder / "out", [recording]))
            both_s = seconds(lambda: write(survey, folder / "out", [recording], paper="a4"))
            sys.stdout.write(f"{what}: tables, figures and page {page_s:.1f} s, with the PDF {both_s:.1f} s\n")
        for file in ("report.html", "report.pdf"):
            sys.stdout.write(f"{file}: {(folder / 'out' / file).stat().st_size / 1e6:.2f} MB\n")
        heard_n = sum(row.status == "heard" for row in survey.strings)
        sys.stdout.write(f"{heard_n} of {len(survey.strings)} strings heard\n")


if __name__ == "__main__":
    main()
