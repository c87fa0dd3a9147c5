"""The page in a real browser, from disk, without a network: what it does by keyboard, how it fits, what axe says."""

import csv
import io
import re

import pytest

from analyzer import clips, figures, report, tables
from analyzer.speech import Manner, speaking
from tests import browser
from tests.example_recording import write_example_recording
from tests.example_survey import DULL, NOT_HEARD, example_survey

pytest.importorskip("selenium", reason="selenium is not installed")
pytestmark = pytest.mark.xdist_group("browser")

WATCH = """
  window.tones = [];
  const real = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (...when) {
    tones.push({hz: this.frequency.value, state: this.context.state});
    return real.apply(this, when);
  };
"""


@pytest.fixture(scope="module")
def survey():
    return example_survey()


@pytest.fixture(scope="module")
def pages(survey, tmp_path_factory):
    """Language -> the page on disk, with its clips."""
    folder = tmp_path_factory.mktemp("pages")
    sounds = clips.cut([write_example_recording(folder / "attic.flac", survey)], survey)
    out = {}
    for language in ("en", "de"):
        with speaking(Manner(language=language)):
            charts = {name: getattr(figures, name)(survey) for name in figures.NAMES} | figures.narrow(survey)
            out[language] = folder / f"report-{language}.html"
            out[language].write_text(report.render(survey, charts, sounds), "utf-8")
    return out


@pytest.fixture(scope="module")
def driver():
    with browser.chromium() as opened:
        opened.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": WATCH})
        yield opened


@pytest.fixture
def page(driver, pages):
    driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    browser.sized(driver, 1440)
    driver.get("about:blank")
    driver.get_log("browser")
    driver.get(pages["en"].as_uri())
    yield driver
    assert driver.get_log("browser") == []


def press(driver, *keys):
    from selenium.webdriver.common.action_chains import ActionChains

    ActionChains(driver).send_keys(*keys).perform()


def tab_to(driver, test, most_n=150):
    """Press Tab until the element with the focus passes the test, a JavaScript expression of `e`."""
    from selenium.webdriver.common.keys import Keys

    for _ in range(most_n):
        press(driver, Keys.TAB)
        if driver.execute_script(f"const e = document.activeElement; return {test}"):
            return
    pytest.fail(f"nothing that the Tab key reaches has {test}")


def shown(driver):
    rows = "[...document.querySelectorAll('table.strings tbody tr')].filter((row) => !row.hidden)"
    return driver.execute_script(f"return {rows}.map((row) => row.cells[0].textContent)")


def until(driver, condition, seconds=8):
    from selenium.webdriver.support.ui import WebDriverWait

    return WebDriverWait(driver, seconds, poll_frequency=0.05).until(lambda d: d.execute_script(f"return {condition}"))


def test_it_opens_from_disk_and_says_what_it_is(page, survey):
    assert survey.title in page.title
    assert page.find_element("tag name", "h1").text == survey.title


def test_it_sorts_by_number_by_keyboard(page, survey):
    from selenium.webdriver.common.keys import Keys

    tab_to(page, "e.closest('th.c-cents') !== null")
    press(page, Keys.ENTER)
    known = sorted((row.cents, row.string) for row in survey.strings if row.cents is not None)
    assert shown(page) == [string for _, string in known] + list(NOT_HEARD)
    press(page, Keys.ENTER)
    assert shown(page) == [string for _, string in known][::-1] + list(NOT_HEARD)
    assert page.execute_script("return document.querySelector('th.c-cents').ariaSort") == "descending"
    press(page, Keys.ENTER)
    assert shown(page) == [row.string for row in survey.strings]


def test_it_filters_and_copies_by_keyboard(page, survey):
    from selenium.webdriver.common.keys import Keys

    tab_to(page, "e.tagName === 'SELECT'")
    press(page, "■")  # typing ahead: the dull ones' sign
    assert shown(page) == list(DULL)
    press(page, Keys.TAB, "150")
    far = [row.string for row in survey.strings if row.string in DULL and abs(row.cents) > 150]
    assert shown(page) == far
    assert page.find_element("css selector", ".said").text == f"{len(far)} of {len(survey.strings)} strings shown"
    for permission in ("clipboard-read", "clipboard-write"):
        page.execute_cdp_cmd("Browser.setPermission", {"permission": {"name": permission}, "setting": "granted"})
    press(page, Keys.TAB, Keys.ENTER)
    until(page, "document.querySelector('.said').textContent.includes('copied')")
    text = page.execute_async_script("navigator.clipboard.readText().then(arguments[0])")
    rows = list(csv.DictReader(io.StringIO(text)))
    wanted = [row for row in csv.DictReader(io.StringIO(tables.strings_csv(survey))) if row["string"] in far]
    assert rows == wanted


def test_a_clip_its_note_and_a_good_neighbour_play_by_keyboard(page, survey):
    from selenium.webdriver.common.keys import Keys

    row = next(row for row in survey.strings if row.string == "C5")
    tab_to(page, "e.hash === '#string-C5'")
    press(page, Keys.ENTER)
    assert page.execute_script("return document.getElementById('string-C5').parentElement.open")
    tab_to(page, "e.id === 'clip-C5'", 2)
    assert page.execute_script("return document.activeElement.ariaLabel") == (
        "The recorded pluck of C5, levelled like the others"
    )
    assert page.execute_script("return [...document.querySelectorAll('audio')].every((a) => a.paused && !a.autoplay)")
    press(page, Keys.SPACE)
    until(page, "document.getElementById('clip-C5').currentTime > 0.05")

    tab_to(page, "e.dataset.play === 'tone'", 8)
    press(page, Keys.ENTER)
    until(page, "tones.length === 1")
    assert page.execute_script("return document.getElementById('clip-C5').paused")
    played = page.execute_script("return tones[0]")
    assert played["hz"] == pytest.approx(row.target_hz, rel=1e-6)
    assert played["state"] == "running"
    assert page.execute_script("return document.activeElement.textContent") == "Stop"
    press(page, Keys.ENTER)
    assert page.execute_script("return document.activeElement.textContent").startswith("Its note")

    press(page, Keys.TAB)
    assert page.execute_script("return document.activeElement.dataset.play") == "turn"
    press(page, Keys.ENTER)
    until(page, "!document.getElementById('clip-C5').paused")
    page.execute_script("document.getElementById('clip-C5').currentTime = 1e9")  # to its end, not to wait for it
    until(page, "tones.length === 2")
    press(page, Keys.ENTER, Keys.TAB)
    assert page.execute_script("return document.activeElement.textContent") == "A good neighbour: B♭4"
    press(page, Keys.ENTER)
    until(page, "document.getElementById('clip-B4').currentTime > 0.05")
    press(page, Keys.ENTER)
    until(page, "document.getElementById('clip-B4').paused")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_no_violation(page, theme):
    page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [{"name": "prefers-color-scheme", "value": theme}]})
    page.execute_script("for (const one of document.querySelectorAll('details')) one.open = true")
    assert browser.violations(page) == []


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("width", [360, 768, 1440])
def test_nothing_sticks_out(page, pages, width, language):
    page.get(pages[language].as_uri())
    browser.sized(page, width)
    page.execute_script("for (const one of document.querySelectorAll('details')) one.open = true")
    over = page.execute_script(
        """
        const inside = (e) => e.closest('.wide, pre, .long, .unseen, .quiet, svg');
        return [...document.body.querySelectorAll('*')]
          .filter((e) => !inside(e) && e.getBoundingClientRect().right > innerWidth + 1)
          .map((e) => e.outerHTML.slice(0, 120));
        """
    )
    assert over == []
    assert page.execute_script("return document.documentElement.scrollWidth") <= width
    visible = page.execute_script(
        "return [...document.querySelectorAll('figure > .wide, figure > .narrow')].map((e) => e.offsetWidth > 0)"
    )
    assert visible == [width > 832, width <= 832] * 2
    # letters of 9 points in charts of 11.4 and 3.9 inches: none smaller than 10 CSS pixels
    drawn = "document.querySelector(innerWidth > 832 ? '.chart svg' : '.narrow svg').getBoundingClientRect().width"
    assert 9 * page.execute_script(f"return {drawn}") / (72 * (11.4 if width > 832 else 3.9)) > 10


def test_on_paper_nothing_sticks_out_and_the_essentials_are_there(page, survey):
    import base64

    from pypdf import PdfReader

    data = page.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True, "printBackground": False})["data"]
    pages_there = PdfReader(io.BytesIO(base64.b64decode(data))).pages
    text = re.sub(r"\s+", " ", " ".join(one.extract_text() for one in pages_there))
    for row in survey.strings:
        assert f" {row.string} " in text
    assert "Copy the rows" not in text
    browser.sized(page, 700)  # an A4 page's width within its margins, in CSS pixels
    page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    assert page.execute_script("return document.documentElement.scrollWidth") <= 700
    over = page.execute_script(
        "return [...document.querySelectorAll('main *')].filter((e) => e.getBoundingClientRect().right > 702).length"
    )
    assert over == 0


def test_with_scripts_off_all_is_there_to_read_and_hear(page, pages, survey):
    page.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    page.get(pages["en"].as_uri())
    assert page.find_elements("css selector", "th button") == []
    assert not page.find_element("css selector", ".choose").is_displayed()
    text = page.execute_script("return document.body.textContent")
    for line in tables.strings_csv(survey).splitlines():
        assert line in text
    assert len(page.find_elements("css selector", "audio[controls]")) == len(survey.strings) - len(NOT_HEARD)
