"""A wheel built from the project and installed elsewhere has its layouts, templates and styles."""

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    words = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(ROOT)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    return next(folder.glob("harp_string_survey-*.whl"))


def test_every_file_of_the_package_is_in_the_wheel(wheel):
    packed = set(zipfile.ZipFile(wheel).namelist())
    source = {
        p.relative_to(ROOT).as_posix()
        for p in (ROOT / "analyzer").rglob("*")
        if p.is_file() and "__pycache__" not in p.parts and p.suffix != ".po"
    }
    assert source - packed == set()
    assert not any(name.startswith(("tests", "fixtures", "reports")) for name in packed)


def test_installed_elsewhere_it_finds_its_layouts_and_renders_a_report(wheel, tmp_path):
    zipfile.ZipFile(wheel).extractall(tmp_path / "site")
    code = (
        "import sys; sys.path.insert(0, sys.argv[1]); import analyzer, analyzer.cli; "
        "assert analyzer.__file__.startswith(sys.argv[1]); "
        "sys.exit(analyzer.cli.main(['demo', '--out', sys.argv[2]]))"
    )
    words = [sys.executable, "-c", code, str(tmp_path / "site"), str(tmp_path / "demo")]
    done = subprocess.run(words, capture_output=True, text=True, check=False, cwd=tmp_path)
    assert done.returncode == 0, done.stderr[-2000:]
    page = (tmp_path / "demo" / "after" / "report.html").read_text(encoding="utf-8")
    assert "<style" in page
    assert "<svg" in page
