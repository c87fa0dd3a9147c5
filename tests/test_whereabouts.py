"""A string is found as one counts on the harp."""

from analyzer.notes import string_named
from analyzer.whereabouts import places, where
from tests.survey_moves import plain


def test_a_coloured_string_is_found_by_its_colour_as_the_command_line_reads_it():
    survey = plain()
    assert where(survey, "C4") == "the third red string from the top"
    for row in survey.strings:
        words = where(survey, row.string)
        if row.string[0] in "CF":
            assert string_named(words.replace(" string", ""), survey.layout) == row.string
    assert where(survey, "D4") == "the string just above the third red string from the top"
    assert where(survey, "A3") == "the second string below the third red string from the top"
    assert where(survey, "A6") == "the top string, the shortest"


def test_strings_counted_from_the_top_are_told_in_runs():
    survey = plain()
    rows = {row.string: row for row in survey.strings}
    assert places(survey, [rows["A6"]]) == "1"
    top = [rows[name] for name in ("D6", "E6", "F6", "A6")]  # A6 G6 F6 E6 D6: the first, and the third to the fifth
    assert places(survey, top) == "1 and 3 to 5"
