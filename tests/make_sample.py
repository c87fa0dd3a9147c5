"""`python -m tests.make_sample`: the reports of the invented demo harp that lie in reports/, made anew.

Everything is as `harp-survey analyze --pdf` writes it; only the picture of the page for the README needs a browser and
is left as it is where there is none.
"""

import os
import shutil
import sys
import tempfile
from pathlib import Path

import pytest

from analyzer import demo
from analyzer.cli import main as harp_survey
from tests import browser

REPORTS = Path(__file__).parent.parent / "reports"
MADE_AT = "1772460000"
"""2026-03-02, the day of the invented recording, so that the same program gives the same bytes."""
PICTURE = "demo-report.png"
PICTURE_PX = (1200, 1500)
FILES = {
    "report.html": "demo-report.html",
    "report.pdf": "demo-report.pdf",
    "figures/deviation.svg": "demo-deviation.svg",
    "figures/deviation.png": "demo-deviation.png",
    "figures/decay.svg": "demo-decay.svg",
    "figures/decay.png": "demo-decay.png",
}


def make(folder: Path) -> None:
    """Survey the demo harp before it was seen to, and put its reports there."""
    os.environ["SOURCE_DATE_EPOCH"] = MADE_AT
    with tempfile.TemporaryDirectory() as temporary:
        work = Path(temporary)
        recording, _ = demo.write_demo_recordings(work)
        words = ["--layout", demo.LAYOUT, "--tuning", demo.TUNING, "--levers", demo.LEVERS]
        words += ["--missing", ",".join(demo.MISSING), "--title", demo.HARP_NAME, "--date", demo.DATES[0], "--pdf"]
        code = harp_survey(["analyze", str(recording), *words, "--out", str(work / "out")])
        if code:
            raise SystemExit(code)
        folder.mkdir(parents=True, exist_ok=True)
        for name, kept in FILES.items():
            shutil.copyfile(work / "out" / name, folder / kept)


def make_picture(folder: Path) -> None:
    """The top of the page as people see it first."""
    with browser.chromium() as driver:
        width, height = PICTURE_PX
        browser.sized(driver, width, height)
        driver.get((folder / FILES["report.html"]).resolve().as_uri())
        (folder / PICTURE).write_bytes(browser.picture(driver, height))


if __name__ == "__main__":
    make(REPORTS)
    try:
        make_picture(REPORTS)
    except pytest.skip.Exception as e:
        sys.stderr.write(f"{PICTURE} stays as it was: {e}\n")
