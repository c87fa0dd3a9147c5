"""`python -m tests.make_sample`: the reports of the invented demo harp that lie in reports/, made anew.

Everything is as `harp-survey` writes it; only the picture of the page for the README needs a browser and
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
    "before/report.html": "demo-report.html",
    "before/report.pdf": "demo-report.pdf",
    "before/figures/deviation.svg": "demo-deviation.svg",
    "before/figures/deviation.png": "demo-deviation.png",
    "before/figures/decay.svg": "demo-decay.svg",
    "before/figures/decay.png": "demo-decay.png",
    "plan/plan.html": "demo-plan.html",
    "change/compare.html": "demo-compare.html",
}
REPORT = FILES["before/report.html"]


def make(folder: Path) -> None:
    """Survey the demo harp before and after it was seen to, plan the work, compare, and put the reports there."""
    os.environ["SOURCE_DATE_EPOCH"] = MADE_AT
    with tempfile.TemporaryDirectory() as temporary:
        work = Path(temporary)
        before, after = demo.write_demo_recordings(work)
        harp = ["--layout", demo.LAYOUT, "--tuning", demo.TUNING, "--levers", demo.LEVERS, "--title", demo.HARP_NAME]
        missing = ",".join(demo.MISSING)
        runs = (
            [
                "analyze",
                str(before),
                *harp,
                "--missing",
                missing,
                "--date",
                demo.DATES[0],
                "--pdf",
                *out(work, "before"),
            ],
            ["analyze", str(after), *harp, "--missing", "none", "--date", demo.DATES[1], *out(work, "after")],
            ["plan", str(work / "before"), "--inspected", "good", "--confirm", "all", *out(work, "plan")],
            ["compare", str(work / "before"), str(work / "after"), *out(work, "change")],
        )
        for words in runs:
            if code := harp_survey(words):
                raise SystemExit(code)
        folder.mkdir(parents=True, exist_ok=True)
        for name, kept in FILES.items():
            shutil.copyfile(work / name, folder / kept)


def out(work: Path, name: str) -> list[str]:
    """Where a command leaves its files."""
    return ["--out", str(work / name)]


def make_picture(folder: Path) -> None:
    """The top of the page as people see it first."""
    with browser.chromium() as driver:
        width, height = PICTURE_PX
        browser.sized(driver, width, height)
        driver.get((folder / REPORT).resolve().as_uri())
        (folder / PICTURE).write_bytes(browser.picture(driver, height))


if __name__ == "__main__":
    make(REPORTS)
    try:
        make_picture(REPORTS)
    except pytest.skip.Exception as e:
        sys.stderr.write(f"{PICTURE} stays as it was: {e}\n")
