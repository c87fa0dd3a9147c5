"""The sample in reports/ is what the program makes now: made again and compared.

Figures may move a little as the measuring gets better, so what is compared is the make of the files, not their bytes.
On failure: python -m tests.make_sample.
"""

import re

import pypdf
import pytest

from analyzer.report.page import own
from tests import make_sample
from tests.test_report import Page


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("reports")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", make_sample.MADE_AT)
        make_sample.make(folder)
    return folder


def page(folder):
    return Page((folder / make_sample.REPORT).read_text("utf-8"))


def outline(one):
    """Sections, headings of tables and the strings in order."""
    sections = [attributes.get("id") for attributes in one.all("section")]
    rows = [attributes["data-row"] for attributes in one.all("tr") if "data-row" in attributes]
    links = [attributes["href"] for attributes in one.all("a")]
    return sections, rows, links, len(one.all("audio"))


def test_the_page_is_made_as_the_committed_one(made):
    now, kept = page(made), page(make_sample.REPORTS)
    assert outline(now) == outline(kept)
    assert kept.inside("style") == own("style.css")
    assert kept.inside("script") == own("script.js")


@pytest.mark.parametrize("name", ["demo-plan.html", "demo-compare.html"])
def test_work_order_and_comparison_are_made_as_the_committed_ones(made, name):
    def headings(folder):
        one = Page((folder / name).read_text("utf-8"))
        return [text for tag, text in one.texts if tag == "h2"], one.inside("style"), one.inside("script")

    assert headings(made) == headings(make_sample.REPORTS)


def test_the_paper_is_made_as_the_committed_one(made):
    def heads(folder):
        reader = pypdf.PdfReader(folder / make_sample.FILES["before/report.pdf"])
        return [re.sub(r"\W+", " ", item["/Title"]) for item in reader.outline if isinstance(item, dict)]

    assert heads(made) == heads(make_sample.REPORTS) != []


def test_all_files_are_there_and_of_moderate_size(made):
    for folder in (made, make_sample.REPORTS):
        for name in make_sample.FILES.values():
            assert (folder / name).stat().st_size < 2_000_000, name
    assert (make_sample.REPORTS / make_sample.PICTURE).read_bytes().startswith(b"\x89PNG")
