"""The two tables against their contract: names and order of columns, meaning of cells, and no formula in any."""

import csv
import io
import math
from dataclasses import replace

import pandas
import pytest

from analyzer.tables import plucks_csv, strings_csv
from tests.example_survey import NOT_HEARD, UNCERTAIN, example_survey

STRING_CONTRACT = (
    *("string", "note", "target_hz", "status", "onset_s", "pitch_hz", "cents", "cents_u95", "match_confidence"),
    *("decay_s", "decay_u95_s", "dull", "dull_probability", "false_probability", "verdict", "remarks"),
)
PLUCK_CONTRACT = (
    *("onset_s", "end_s", "string", "confidence", "also_possible", "counted", "reason", "pitch_hz", "level_db"),
)


def rows(text):
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.fixture
def survey():
    return example_survey()


def test_the_columns_of_the_contract_come_first_in_its_order(survey):
    assert tuple(rows(strings_csv(survey))[0])[: len(STRING_CONTRACT)] == STRING_CONTRACT
    assert tuple(rows(plucks_csv(survey))[0])[: len(PLUCK_CONTRACT)] == PLUCK_CONTRACT


def test_there_is_a_row_for_every_string_lowest_first_and_for_every_pluck_in_time_order(survey):
    assert [row["string"] for row in rows(strings_csv(survey))] == [row.string for row in survey.strings]
    onsets = [float(row["onset_s"]) for row in rows(plucks_csv(survey))]
    assert onsets == sorted(onsets)
    assert len(onsets) == len(survey.plucks)


def test_a_survey_without_plucks_still_has_the_header(survey):
    assert plucks_csv(replace(survey, plucks=())).startswith("onset_s,end_s,string,")


def test_a_heard_string_reads_back_as_it_was_measured(survey):
    table = {row["string"]: row for row in rows(strings_csv(survey))}
    for row in survey.strings:
        cells = table[row.string]
        assert cells["note"] == row.note
        assert cells["status"] == row.status
        assert cells["verdict"] == row.verdict
        assert cells["remarks"] == " ".join(row.remarks)
        assert float(cells["target_hz"]) == pytest.approx(row.target_hz, rel=1e-6)
        if row.cents is not None:
            assert float(cells["pitch_hz"]) == pytest.approx(row.pitch_hz, rel=1e-6)
            assert float(cells["cents"]) == pytest.approx(row.cents, abs=0.005)
            assert float(cells["cents_u95"]) == pytest.approx(row.cents_u95, abs=0.005)
            assert float(cells["onset_s"]) == pytest.approx(row.onset_s, abs=5e-5)
            assert float(cells["match_confidence"]) == pytest.approx(row.match_confidence, abs=5e-4)
        if row.decay_s is not None:
            assert float(cells["decay_s"]) == pytest.approx(row.decay_s, abs=5e-4)
            assert float(cells["dull_probability"]) == pytest.approx(row.dull_probability, abs=5e-4)
            assert float(cells["false_probability"]) == pytest.approx(row.false_probability, abs=5e-4)
            assert cells["dull"] == ("true" if row.dull else "false")


def test_cents_can_be_recomputed_from_the_two_pitches_in_the_table(survey):
    for cells in rows(strings_csv(survey)):
        if cells["cents"]:
            again = 1200 * math.log2(float(cells["pitch_hz"]) / float(cells["target_hz"]))
            assert float(cells["cents"]) == pytest.approx(again, abs=0.01)


def test_a_string_not_heard_has_no_figures(survey):
    table = {row["string"]: row for row in rows(strings_csv(survey))}
    for name in NOT_HEARD:
        figures = set(STRING_CONTRACT[4:14])
        assert {table[name][column] for column in figures} == {""}
        assert table[name]["status"] == "not heard"


def test_every_string_heard_or_uncertain_has_one_counted_pluck_and_the_others_none(survey):
    counted = [row["string"] for row in rows(plucks_csv(survey)) if row["counted"] == "true"]
    heard = [row["string"] for row in rows(strings_csv(survey)) if row["status"] != "not heard"]
    assert sorted(counted) == sorted(heard)


def test_other_readings_of_a_pluck_are_listed_with_their_probabilities(survey):
    (pluck,) = [row for row in rows(plucks_csv(survey)) if row["string"] == UNCERTAIN]
    assert pluck["also_possible"] == "C4:0.31;E4:0.05"


def test_a_sound_that_is_no_string_says_why_and_has_no_name(survey):
    first = rows(plucks_csv(survey))[0]
    assert (first["string"], first["counted"], first["reason"]) == ("", "false", "not a string")
    assert (first["pitch_hz"], first["level_db"]) == ("", "-12.1")


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_text_cannot_become_a_formula_but_negative_numbers_stay_numbers(survey, start):
    # OWASP, "CSV Injection": cells that begin with one of these are run by spreadsheets.
    hostile = start + 'cmd|" /C calc"!A0'
    strings = (replace(survey.strings[0], remarks=(hostile,)), *survey.strings[1:])
    info = replace(survey.recordings[0], name=hostile)
    text = strings_csv(replace(survey, strings=strings, recordings=(info,)))
    first = rows(text)[0]
    assert first["remarks"] == "'" + hostile
    assert first["recording"] == "'" + hostile
    assert first["cents"].startswith("-4")


def test_no_minus_zero_and_no_exponents(survey):
    strings = (replace(survey.strings[0], cents=-0.001, decay_s=0.00004), *survey.strings[1:])
    first = rows(strings_csv(replace(survey, strings=strings)))[0]
    assert (first["cents"], first["decay_s"]) == ("0.00", "0.000")


@pytest.mark.parametrize("name", ["a,b", 'a"b', "a\nb", "emoji 🎶", "\u202eevil", "x" * 10_000])
def test_any_text_comes_back_whole(survey, name):
    info = replace(survey.recordings[0], name=name)
    table = rows(strings_csv(replace(survey, recordings=(info,))))
    assert table[0]["recording"] == name
    assert len(table) == len(survey.strings)


def test_pandas_reads_the_types_one_expects(survey):
    table = pandas.read_csv(io.StringIO(strings_csv(survey)))
    assert table["cents"].dtype == float
    assert table["cents"].isna().sum() == len(NOT_HEARD)
