"""No page says anything that was not looked up for translation.

The catalogue of the moment is replaced by one in an invented alphabet (pseudo-localisation, as of the Unicode CLDR's
pseudo-locales): every letter of every translated text becomes a full-width one, what is filled in stays as it is. Any
word left in plain letters was not translated, or is a name, a unit, or something typed.
"""

import gettext
import math
import re
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
import soundfile

from analyzer import pdf, report, speech
from analyzer.answers import KEPT_SCHEMA, Answers, Kept, fingerprint
from analyzer.changes import New
from analyzer.collection import Outcome
from analyzer.collection_tables import collect
from analyzer.comparison import Said, Source, make_comparison
from analyzer.errors import SurveyError
from analyzer.finished import Record
from analyzer.intake import Found, Words, make_item
from analyzer.layout import load_layout
from analyzer.outlook import look_ahead
from analyzer.pipeline import analyze
from analyzer.plan import make_plan
from analyzer.prices import Prices
from analyzer.reply import reply
from analyzer.report import collection_page, compare_page, plan_page, reply_page, summary_page
from analyzer.request import Request
from analyzer.restating import restated_each
from analyzer.settings import ReplySettings, Settings
from analyzer.triage import line_of
from analyzer.tuning import make_tuning
from analyzer.worker import reason_for
from tests.example_survey import example_survey
from tests.survey_moves import NOT_HEARD, moved, plain, with_rows
from tests.survey_of import START, survey_of
from tests.test_report import NO_CHARTS, Page

WIDE = {ord(letter): chr(ord(letter) + 0xFEE0) for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"}
"""Letters to full-width ones (Unicode, Halfwidth and Fullwidth Forms)."""

UNITS = "Hz kHz dB kN mm min mono stereo cents"
NAMES = "harp string survey SHA CSV csv strings plucks plan load buy changes regulation instruments failures"
"""The program, its files, and what has the same name everywhere."""


class Invented(gettext.NullTranslations):
    """Every text in the invented alphabet."""

    def gettext(self, message):
        parts = re.split(r"(\{\w*\})", message)
        return "".join(part if k % 2 else part.translate(WIDE) for k, part in enumerate(parts))

    def ngettext(self, one, many, n):
        return self.gettext(one if n == 1 else many)

    def pgettext(self, context, message):
        return message


@contextmanager
def invented(monkeypatch):
    plain = gettext.NullTranslations()
    monkeypatch.setattr(speech, "_catalogue", lambda language: plain if language == "en" else Invented())
    with speech.speaking(speech.Manner(language="de")):
        yield


def words_left(texts, *typed):
    """Words of plain letters that are neither names nor units nor typed."""
    known = set(re.findall(r"[A-Za-z]{2,}", " ".join((UNITS, NAMES, *typed))))
    plain = {text: [word for word in re.findall(r"[A-Za-z]{2,}", text) if word not in known] for text in texts}
    return [(found, text) for text, found in plain.items() if found]


READ_OUT = ("aria-label", "data-up", "data-down", "data-layout", "data-shown", "data-copied", "data-failed", "alt")


def told_by(html):
    """What a page tells: its texts and the attributes that are read out, without tables for scripts."""
    page = Page(re.sub(r"<pre.*?</pre>", "", html, flags=re.DOTALL))
    texts = [data for tag, data in page.texts if tag not in ("script", "style")]
    return [*texts, *(value for _, given in page.elements for name, value in given.items() if name in READ_OUT)]


def typed_in(survey):
    """All that stands in a survey as somebody typed or named it."""
    return (
        survey.title,
        survey.layout.name,
        survey.layout.source,
        *(f"{info.name} {info.codec} {info.sha256}" for info in survey.recordings),
        *survey.libraries,
        *(f"{option} {value}" for option, value in survey.said.items()),
        *(
            f"{section} {' '.join(map(str, [*values, *values.values()]))}"
            for section, values in survey.settings.items()
        ),
        survey.made_at,
    )


def test_the_alphabet_is_told_from_what_was_not_translated(monkeypatch):
    with invented(monkeypatch):
        assert words_left([speech.say("In short"), "In full"]) == [(["In", "full"], "In full")]


def test_the_survey_before_a_plan(monkeypatch):
    survey = example_survey()
    with invented(monkeypatch):
        left = words_left(told_by(report.render(survey, NO_CHARTS)), *typed_in(survey))
    assert left == []


def texts_of(value):
    """Every text in a document for paper, drawings apart."""
    if isinstance(value, str):
        return [value]
    if isinstance(value, dict):
        kept = {key: one for key, one in value.items() if key not in ("svg", "kind", "paper", "language", "tone")}
        return [text for one in kept.values() for text in texts_of(one)]
    return [text for one in value for text in texts_of(one)] if isinstance(value, list | tuple) else []


GONE = NOT_HEARD | {"match_confidence": None, "decay_u95_s": None}


def planned():
    """A slack harp with one of everything, and the answers that a plan takes."""
    layout = load_layout("lever-34")
    tuning = make_tuning(layout, "E-flat", levers="off")
    changes = {
        "A3": GONE,
        "F6": GONE,
        "D4": {"cents": -1190.0, "pitch_hz": 100.0},
        "B5": {"verdict": "dull", "dull": True, "dull_probability": 0.9, "decay_s": 0.9, "expected_decay_s": 2.0},
        "C6": {"verdict": "false", "false_probability": 0.9},
    }
    survey = survey_of(layout, tuning, {t.string: -180.0 for t in tuning.targets} | {"E4": 60.0}, changes)
    survey = with_rows(survey, {row.string: {"remarks": ()} for row in survey.strings})
    return survey, Answers(inspected="good", confirm_all=True, replaced=("C5",), fitted={"F5": "2026-02-20"})


def kept_with(survey, answers):
    plan = make_plan(survey, answers, start=START)
    return Kept(
        schema=KEPT_SCHEMA,
        fingerprint=fingerprint(survey),
        answers=answers,
        turns=plan.turns,
        checkpoint_passes=plan.checkpoint_n,
    )


@pytest.mark.parametrize("answered", [False, True])
def test_the_survey_with_what_lies_ahead_on_page_and_paper(monkeypatch, answered):
    survey, answers = planned()
    outlook = look_ahead(survey, kept_with(survey, answers) if answered else None)
    assert (outlook.plan is not None) == answered
    assert outlook.paying is not None
    with invented(monkeypatch):
        page = told_by(report.render(survey, NO_CHARTS, {}, outlook))
        paper = texts_of(pdf._document(survey, {}, {}, "a4", outlook))
    assert words_left(page, *typed_in(survey), "good") == []
    assert words_left(paper, *typed_in(survey), "good") == []


def test_the_work_order(monkeypatch):
    survey, answers = planned()
    prices = Prices(lines=(), wire_set=None)
    for plan in (
        make_plan(survey, answers, start=START),
        make_plan(survey, replace(answers, gentle=True, advised_by="Ada"), start=START, prices=prices),
    ):
        with invented(monkeypatch):
            assert words_left(told_by(plan_page.render(plan)), *typed_in(survey), "good", "Ada") == []


def compared(surveys, **said):
    sources = [Source(survey=s, name=f"s{i}", sha256="0" * 64) for i, s in enumerate(surveys)]
    return make_comparison(sources, Said(**said), Settings(), program_version="0", made_at="2026-03-02")


def drifting(day, tau=6.0):
    falls = {"C5": 25.0}
    away = lambda i, row: -falls.get(row.string, 8.0) * (1 - math.exp(-day / tau)) + math.sin(i)  # noqa: E731
    return moved(plain(), away, date=str(date(2026, 3, 1) + timedelta(days=day)), doubts=())


def test_before_and_after_and_how_a_harp_settles(monkeypatch):
    before = plain()
    after = with_rows(
        moved(before, lambda i, row: row.cents + (30.0 if i % 2 else 0.0)),
        {"C4": {"verdict": "dull", "dull": True}, "D4": GONE, "E5": {"decay_s": 0.7, "decay_u95_s": 0.05}},
    )
    first = with_rows(before, {"G4": GONE})
    comparisons = [
        compared(
            [replace(first, date="2026-03-01"), replace(after, date="")],
            lent=True,
            borrower="",
            new=(New(string="F4"),),
        ),
        compared([drifting(day) for day in (0, 2, 5, 9, 15, 23)]),
    ]
    assert comparisons[1].course is not None
    for comparison in comparisons:
        with invented(monkeypatch):
            left = words_left(told_by(compare_page.render(comparison)), *typed_in(before), "s0 s1 s2 s3 s4 s5")
        assert left == []


def test_what_levers_raise(monkeypatch):
    open_, engaged = plain(), moved(plain(), lambda i, row: row.cents + 100.0 + (8.0 if i % 3 else 0.0))
    said = [{"settled": False}, {"settled": True}]
    for more in said:
        comparison = compared([open_, engaged], regulation=True, **more)
        with invented(monkeypatch):
            left = words_left(told_by(compare_page.render(comparison)), *typed_in(open_), "s0 s1")
        assert left == []


def test_the_reply_to_a_beginner(monkeypatch):
    slack, _ = planned()
    noisy = plain()
    quiet = replace(noisy, plucks=tuple(replace(p, level_db=-58.0) for p in noisy.plucks[:9]) + noisy.plucks[9:])
    far = moved(noisy, lambda i, row: -40.0 if i % 2 else 30.0)
    far = replace(far, recordings=tuple(replace(info, findings=()) for info in far.recordings))
    for survey in (example_survey(), slack, quiet, far):
        answer = reply(survey)  # in English, as it is kept
        with invented(monkeypatch):
            page = reply_page.render(answer, ReplySettings())
        assert words_left(told_by(page), *typed_in(survey)) == []


def reasons(folder):
    """Why recordings give nothing, as the batch says it."""
    files = {"empty.wav": b"", "text.wav": b"no sound at all" * 99}
    silence = folder / "silence.flac"
    soundfile.write(silence, np.zeros(44100 * 3), 44100)
    tone = folder / "tone.flac"
    soundfile.write(tone, 0.3 * np.sin(2 * np.pi * 440 * np.arange(44100 * 3) / 44100), 44100)
    for name, content in files.items():
        (folder / name).write_bytes(content)
    layout = load_layout("lever-34")
    said = []
    for path in (*(folder / name for name in files), silence, tone):
        request = Request(recordings=(path,), layout=layout, tuning=make_tuning(layout, "C", levers="off"), made_at="")
        with pytest.raises(SurveyError) as refused:
            analyze(request, Settings())
        said.append(reason_for(path, refused.value))
    return [*said, "It took longer than 60 s (--limit-seconds); cut out the harp's part."]


def test_a_collection_and_the_short_pages_in_it(monkeypatch, tmp_path):
    slack, _ = planned()
    surveys = {"tight": moved(plain(), lambda i, row: 130.0 if i == 9 else 0.0), "slack": slack, "fine": plain()}
    surveys["worn"] = with_rows(plain(), {"C4": {"verdict": "dull"}, "D4": {"verdict": "false"}})
    surveys["low"] = moved(plain(), lambda i, row: -150.0)
    surveys["semitone"] = moved(plain(), lambda i, row: -100.0)
    items, outcomes, unpriced = [], {}, Prices(lines=(), wire_set=None)
    for name, survey in surveys.items():
        item, _ = make_item(name, [f"{name}.wav"], [f"{name}.wav"], Words(layout="lever-34"), Words())
        items.append(item)
        record = Record(
            schema=1, fingerprint="", priced="", limits=None, files=(), line=line_of(survey, unpriced), failures=()
        )
        outcomes[item.key] = Outcome(key=item.key, record=record, found=False)
        with invented(monkeypatch):
            assert words_left(told_by(summary_page.render(survey)), *typed_in(survey)) == []
    found = Found(items=tuple(items), refused=tuple((f"cut {i}.wav", why) for i, why in enumerate(reasons(tmp_path))))
    for priced in (False, True):
        with invented(monkeypatch):
            page = collection_page.render(collect(found, outcomes, priced=priced), "0")
        assert words_left(told_by(page), *surveys, "lever cut wav WAV FLAC limit seconds") == []


def test_what_was_said_against_what_was_heard(monkeypatch):
    survey = replace(
        plain(),
        doubts=(),
        remarks=(
            "harp.flac: you said the strings were plucked down, but they sound in another order.",
            "Your correction of the pluck at 34.2 s fits neither its place in the row nor its sound.",
            "Recorded again: C4, D4.",
            "The later recording added no string.",
        ),
    )
    with invented(monkeypatch):
        left = words_left(told_by(report.render(survey, NO_CHARTS)), *typed_in(survey), "harp flac")
    assert left == []


@pytest.mark.parametrize(
    "remark",
    [
        "Dies away 2.1 times (1.6 to 2.8) as fast as its neighbours lead one to expect: dull (93%).",
        "Its partials 1, 2 and 3 beat 1.1 to 3.2 times a second, each two tones 2.9 cents apart where 0.4 are usual"
        " here: a false string (95%).",
        "Its partials 1, 2 and 3 beat 1.1 to 3.2 times a second, each two tones 2.9 cents apart where 0.4 are usual"
        " here: it may be a false string (61%).",
        "The level was turned up by the recorder in this recording, which makes damping look less: the comparison is"
        " rough.",
    ],
)
def test_what_earlier_versions_wrote_into_a_survey_is_still_told_in_german(remark):
    """In their very words: old surveys are read for ever."""
    with speech.speaking(speech.Manner(language="de")):
        (told,) = restated_each(remark)
    assert told.text != remark
    assert not re.search(r"\b(the|of|are|its|as)\b", told.text)
