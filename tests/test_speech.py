"""Every text has its German, filled in rightly; the stages' own sentences are recognised; English stays as it was."""

import re
import string
from dataclasses import replace

import pytest

from analyzer import figures, report, sentences, words
from analyzer.patterns import PATTERNS
from analyzer.restating import restated
from analyzer.speech import LANGUAGES, LOCALE, Manner, Spoken, say, say_many, speaking
from tests import make_catalogs
from tests.example_survey import example_survey
from tests.test_report import NO_CHARTS, Page

GERMAN = Manner(language="de")


def blanks(text):
    """The places to fill in a text."""
    return sorted(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_every_text_in_the_code_is_translated_and_nothing_else_is(language):
    # on failure: python -m tests.make_catalogs, then fill in what it says is left
    there = {(m.context, m.id): m for m in make_catalogs.catalogue(language) if m.id}
    wanted = {(m.context, m.id) for m in make_catalogs.texts() if m.id}
    assert set(there) == wanted
    assert [m.id for m in there.values() if m.fuzzy or not all([m.string] if m.context else list(m.string))] == []


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_a_translation_has_the_places_to_fill_of_its_text(language):
    for message in make_catalogs.catalogue(language):
        if isinstance(message.id, tuple):
            one, many = message.id
            assert [blanks(form) for form in message.string] == [blanks(one), blanks(many)], message.id
        elif message.id:
            assert blanks(message.string) == blanks(message.id), message.id


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_the_compiled_catalogue_is_that_of_the_text(language):
    file = LOCALE / language / "LC_MESSAGES" / "survey.mo"
    assert file.read_bytes() == make_catalogs.compiled(make_catalogs.catalogue(language))


def test_outside_of_speaking_it_is_english():
    with speaking(GERMAN):
        assert say(words.SUMMARY) == "Kurz gefasst"
        assert say_many("{n} cent", "{n} cents", 3) == "3 Cent"
        assert Spoken(words).STATES["dull"].word == "stumpf"
        assert Spoken(words).COLUMNS["string"] == "Saite"
        assert words.measured(-101.4234, 3.2) == ("−101,4", "± 3,2")
    assert say(words.SUMMARY) == "In short"
    assert words.measured(-101.4234, 3.2) == ("−101.4", "± 3.2")


def test_a_summary_in_german():
    with speaking(GERMAN):
        said = sentences.summary(example_survey())
        alt = figures.deviation_alt(example_survey())
    assert said[:4] == (
        "Gemessen sind 30 Saiten: 27 sind zu tief, 1 ist zu hoch, 1 liegt höchstens 5 Cent neben dem Ton und 1 klingt"
        " etwa eine Oktave zu tief (G2).",
        "Die Hälfte liegt um mehr als 1,1 Halbtöne daneben; am weitesten C2, 4,4 Halbtöne zu tief; am schlechtesten"
        " steht der Bass.",
        "1 weitere Saite ist gemessen, kann aber eine andere sein: Sie ist nicht mitgezählt (D4).",
        "3 von 34 Saiten wurden nicht gehört (E♭2, A♭3 und F6): Sie fehlen, sind gerissen oder in der Aufnahme"
        " ausgelassen.",
    )
    assert alt.startswith("27 von 34 Saiten sind zu tief, am meisten der Bass, um bis zu 4,4 Halbtöne; 1 ist zu hoch")


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("Its octave is not certain (31% for another one).", "Ihre Oktave ist nicht sicher (31% für eine andere)."),
        ("levers off, E-flat major, A4 = 440 Hz", "Halbtonklappen offen, E♭-Dur, A4 = 440 Hz"),
        ("34-string lever harp, C2 to A6, light stringing", "Hakenharfe mit 34 Saiten, C2 bis A6, leicht besaitet"),
        (
            "Dullness cannot be judged: too few of its partials could be followed.",
            "Ob sie stumpf ist, lässt sich nicht beurteilen: zu wenige ihrer Teiltöne ließen sich verfolgen.",
        ),
        ("Nothing above 7.8 kHz is in the recording.", "Über 7,8 kHz ist nichts in der Aufnahme."),
        (
            "Look at these strings and pluck them: C7: not heard, or its sound was taken for B6 (17%); E7: not heard,"
            " or its sound was taken for F7 (16%).",
            "Diese Saiten ansehen und zupfen: C7: nicht gehört, oder ihr Klang wurde für B6 gehalten (17%); E7: nicht"
            " gehört, oder ihr Klang wurde für F7 gehalten (16%).",
        ),
        (
            "the survey was measured against pedals flat, C-flat major; C1, D1 and G7 (moved by no pedal) taken as"
            " C♭1, D♭1 and G♭7, A4 = 440 Hz, and --pedals 'natural' says otherwise (44 strings, E1 among them); run"
            " harp-survey analyze again with --pedals 'natural', then plan from that.",
            "gemessen wurde gegen: Pedale oben (♭), C♭-Dur; C1, D1 und G7 (von keinem Pedal bewegt) als C♭1, D♭1 und"
            " G♭7 angenommen, A4 = 440 Hz; --pedals 'natural' sagt anderes (44 Saiten, darunter E1); harp-survey"
            " analyze noch einmal mit --pedals 'natural' ausführen und daraus planen.",
        ),
        ("line 5, column 5 (levers)", "Zeile 5, Spalte 5 (levers)"),
    ],
)
def test_a_sentence_of_the_stages_is_said_again_with_what_it_holds(english, german):
    with speaking(GERMAN):
        assert restated(english) == (german, False)
    assert restated(english) == (english, False)


def test_every_pattern_recognises_itself_and_not_another():
    with speaking(GERMAN):
        for pattern in PATTERNS:
            filled = re.sub(r"\{(\w+)\}", "7", pattern)
            assert restated(filled) == (re.sub(r"\{(\w+)\}", "7", say(pattern)), False), pattern


def test_what_the_stages_say_is_known():
    """The sentences that the stages write into a survey, from their own code."""
    from analyzer.checkup import findings_without_plucks
    from analyzer.meters import Measured
    from analyzer.settings import RecordingSettings

    bad = Measured(
        peak_db=-45.0,
        loud_db=-60.0,
        noise_floor_db=-62.0,
        bandwidth_hz=3400.0,
        cliff=True,
        hum_hz=50.0,
        hum_db=-50.0,
        clipped_n=9,
        clipped_at_s=(1.0, 2.0),
        clipped_db=0.0,
        gaps_s=((3.0, 3.5),),
        mended_n=3,
        levels=None,
    )
    found = findings_without_plucks(bad, 60.0, "the file is damaged", RecordingSettings())
    assert len(found) == 8
    turned_down = findings_without_plucks(replace(bad, clipped_db=-3.1), 60.0, "", RecordingSettings())
    assert [f.what for f in turned_down if f.code == "clipping"] != [f.what for f in found if f.code == "clipping"]
    with speaking(GERMAN):
        for finding in (*found, *turned_down):
            for text in (finding.what, finding.spoils, finding.remedy):
                assert not restated(text).english, text


def test_what_is_not_known_stays_english_and_is_marked_so():
    survey = replace(example_survey(), remarks=("A sentence of tomorrow.",))
    with speaking(GERMAN):
        html = report.render(survey, NO_CHARTS)
    assert '<html lang="de">' in html
    assert '<bdi lang="en">A sentence of tomorrow.</bdi>' in html


def test_a_german_page_has_no_english_label_left():
    with speaking(GERMAN):
        text = Page(report.render(example_survey(), NO_CHARTS)).text
    for english in (words.SUMMARY, words.DEVIATION, words.TABLE, words.METHOD, words.GLOSSARY, words.CAUTION_TEXTS[0]):
        assert english not in text


def test_octaves_are_counted_as_harpists_do_where_asked():
    with speaking(Manner(harp_octaves=True)):
        # 5C is C3, the C an octave below middle C; the top G of a concert harp is 0G (common practice, no source).
        assert [words.note(name) for name in ("C3", "Eb4", "G7", "C4")] == ["5C", "4E♭", "0G", "4C"]
        text = Page(report.render(example_survey(), NO_CHARTS)).text
    assert words.HARP_OCTAVES in text
    assert "6E♭" in text
