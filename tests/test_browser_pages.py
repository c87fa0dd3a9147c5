"""Work order, comparison, reply and collection in a real browser, from disk, without a network."""

import csv
import io
from dataclasses import replace

import pytest

from analyzer import plan_tables
from analyzer.change_tables import changes_csv
from analyzer.collection import Outcome
from analyzer.collection_tables import collect, instruments_csv
from analyzer.finished import Record
from analyzer.intake import Found, Words, make_item
from analyzer.outlook import look_ahead
from analyzer.plan import make_plan
from analyzer.prices import Prices
from analyzer.reply import reply
from analyzer.report import collection_page, compare_page, plan_page, render, reply_page, summary_page
from analyzer.settings import ReplySettings
from analyzer.speech import Manner, speaking
from analyzer.spelling import note
from analyzer.triage import line_of
from tests import browser
from tests.survey_moves import moved, plain, with_rows
from tests.survey_of import START
from tests.test_browser import press, tab_to, until
from tests.test_report import NO_CHARTS
from tests.test_translation import compared, drifting, kept_with, planned

pytest.importorskip("selenium", reason="selenium is not installed")
pytestmark = pytest.mark.xdist_group("browser")


def gathered():
    """A collection of four harps."""
    surveys = {"attic": planned()[0], "hall": plain(), "stage": moved(plain(), lambda i, row: -150.0)}
    surveys["school"] = with_rows(plain(), {"C4": {"verdict": "dull"}, "D4": {"verdict": "false"}})
    prices = Prices(lines=(), wire_set=None)
    items, outcomes = [], {}
    for name, survey in surveys.items():
        item, _ = make_item(name, [f"{name}.wav"], [f"{name}.wav"], Words(layout="lever-34"), Words())
        items.append(replace(item, place="cellar" if name == "attic" else "first floor"))
        record = Record(
            schema=1, fingerprint="", priced="", limits=None, files=(), line=line_of(survey, prices), failures=()
        )
        outcomes[item.key] = Outcome(key=item.key, record=record, found=False)
    return collect(Found(items=tuple(items), refused=(("cut.wav", "the file is damaged"),)), outcomes, priced=True)


COMPARISON = compared([replace(plain(), date="2026-03-01"), drifting(9)], lent=True, borrower="A pupil")
SURVEY, ANSWERS = planned()
PLAN = make_plan(SURVEY, ANSWERS, start=START)
PAGES = {
    "plan": lambda: plan_page.render(PLAN),
    "compare": lambda: compare_page.render(COMPARISON),
    "settling": lambda: compare_page.render(compared([drifting(day) for day in (0, 2, 5, 9, 15, 23)])),
    "reply": lambda: reply_page.render(reply(SURVEY, note="Well done."), ReplySettings()),
    "collection": lambda: collection_page.render(gathered(), "0"),
    "short": lambda: summary_page.render(SURVEY),
    "planned": lambda: render(SURVEY, NO_CHARTS, {}, look_ahead(SURVEY, kept_with(SURVEY, ANSWERS))),
}


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pages")
    out = {}
    for language in ("en", "de"):
        with speaking(Manner(language=language)):
            for name, make in PAGES.items():
                out[name, language] = folder / f"{name}-{language}.html"
                out[name, language].write_text(make(), "utf-8")
    return out


@pytest.fixture(scope="module")
def driver():
    with browser.chromium() as opened:
        yield opened


@pytest.fixture
def shown(driver, files):
    """Opens a page; at the end nothing may have been logged."""
    driver.get("about:blank")
    driver.get_log("browser")
    browser.sized(driver, 1440)

    def page(name, language="en"):
        driver.get(files[name, language].as_uri())
        return driver

    yield page
    assert driver.get_log("browser") == []


@pytest.mark.parametrize("name", PAGES)
def test_axe_finds_no_violation(shown, name):
    driver = shown(name)
    driver.execute_script("for (const one of document.querySelectorAll('details')) one.open = true")
    assert browser.violations(driver) == []


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("name", ["compare", "collection"])
def test_a_desktop_screen_shows_every_column(shown, name, language):
    driver = shown(name, language)
    browser.sized(driver, 1200)
    cut = "return [...document.querySelectorAll('.wide')].map((e) => e.scrollWidth - e.clientWidth)"
    assert max(driver.execute_script(cut)) <= 0


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("name", PAGES)
def test_nothing_sticks_out_at_any_width_or_in_print(shown, name, language):
    driver = shown(name, language)
    driver.execute_script("for (const one of document.querySelectorAll('details')) one.open = true")
    for width in (360, 768, 1440):
        browser.sized(driver, width)
        over = driver.execute_script(
            """
            const inside = (e) => e.closest('.wide, pre, .long, .unseen, .quiet, svg');
            return [...document.body.querySelectorAll('*')]
              .filter((e) => !inside(e) && e.getBoundingClientRect().right > innerWidth + 1)
              .map((e) => e.outerHTML.slice(0, 120));
            """
        )
        assert over == [], width
        assert driver.execute_script("return document.documentElement.scrollWidth") <= width
    landscape = name in ("compare", "settling", "collection")
    browser.sized(driver, 1020 if landscape else 700)  # an A4 page within its margins, in CSS pixels
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        assert driver.execute_script("return document.documentElement.scrollWidth - innerWidth") <= 0
    finally:
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def column(driver, sheet, k=0):
    rows = f"[...document.querySelectorAll('.sheet')[{sheet}].querySelectorAll('tbody tr')].filter((r) => !r.hidden)"
    return driver.execute_script(f"return {rows}.map((row) => row.cells[{k}].innerText.trim())")


def copied(driver, sheet):
    """The rows that the sheet's button copies, pressed by keyboard."""
    from selenium.webdriver.common.keys import Keys

    for permission in ("clipboard-read", "clipboard-write"):
        driver.execute_cdp_cmd("Browser.setPermission", {"permission": {"name": permission}, "setting": "granted"})
    tab_to(
        driver, f"e.hasAttribute('data-copy') && e.closest('.sheet') === document.querySelectorAll('.sheet')[{sheet}]"
    )
    press(driver, Keys.ENTER)
    until(driver, f"document.querySelectorAll('.sheet')[{sheet}].querySelector('.said').textContent.includes('copied')")
    text = driver.execute_async_script("navigator.clipboard.readText().then(arguments[0])")
    return list(csv.DictReader(io.StringIO(text)))


def test_a_comparison_sorts_filters_and_copies_by_keyboard(shown):
    from selenium.webdriver.common.keys import Keys

    driver = shown("compare")
    rows = COMPARISON.pairs[-1].strings
    tab_to(driver, "e.closest('th.c-change') !== null")
    press(driver, Keys.ENTER)
    known = sorted((row.change_cents, row.string, row.note) for row in rows if row.change_cents is not None)
    assert column(driver, 0)[: len(known)] == [note(written) for _, _, written in known]
    driver.refresh()
    tab_to(driver, "e.dataset.by === 'c-change'")
    press(driver, "15")
    moved = [row for row in rows if row.change_cents is not None and abs(row.change_cents) > 15]
    far = [row.string for row in moved]
    assert column(driver, 0) == [note(row.note) for row in moved] != []
    table = list(csv.DictReader(io.StringIO(changes_csv(COMPARISON))))
    assert copied(driver, 0) == [row for row in table if row["string"] in far]


def test_purchases_of_a_plan_filter_and_copy_by_keyboard(shown):
    driver = shown("plan")
    tab_to(driver, "e.dataset.by === 'reason'")
    press(driver, "dull")
    dull = [one.string for one in PLAN.purchases if one.reason == "dull"]
    assert column(driver, 0, 1) == dull != []
    table = list(csv.DictReader(io.StringIO(plan_tables.buy_csv(PLAN))))
    assert copied(driver, 0) == [row for row in table if row["reason"] == "dull"]


def test_a_collection_searches_sorts_and_copies_by_keyboard(shown):
    from selenium.webdriver.common.keys import Keys

    driver = shown("collection")
    table = list(csv.DictReader(io.StringIO(instruments_csv(gathered()))))
    names = [row["instrument"] for row in table]
    assert [one.split("\n")[0] for one in column(driver, 0)] == names
    tab_to(driver, "e.type === 'search'")
    press(driver, "cellar")
    assert [one.split("\n")[0] for one in column(driver, 0)] == ["attic"]
    assert driver.find_element("css selector", ".said").text == "1 of 4 instruments shown"
    assert copied(driver, 0) == [row for row in table if row["instrument"] == "attic"]
    driver.refresh()
    tab_to(driver, "e.textContent === 'Off by, cents'")
    press(driver, Keys.ENTER, Keys.ENTER)
    off = sorted(table, key=lambda row: -float(row["median_abs_cents"]))
    assert [one.split("\n")[0] for one in column(driver, 0)] == [row["instrument"] for row in off]


def test_with_scripts_off_there_is_nothing_to_press_and_all_to_read(shown):
    driver = shown("plan")
    driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        for name, table in (("compare", changes_csv(COMPARISON)), ("plan", plan_tables.plan_csv(PLAN))):
            shown(name)
            assert not any(one.is_displayed() for one in driver.find_elements("css selector", ".choose"))
            text = driver.execute_script("return document.body.textContent")
            assert all(line in text for line in table.splitlines())
    finally:
        driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
