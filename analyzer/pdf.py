"""A survey on paper: the report's content as a PDF for A4 or Letter, to print, sign and file.

Set by Typst (the `typst` package carries its compiler and fonts: no browser, no TeX, no network; chosen over libraries
that need system libraries, or that leave page breaks, running heads and repeated table heads to us). The document is
handed over as data, so that nothing a person typed can be taken for markup; how each kind of block looks is in
report/paper.typ. Words, figures and numbers are those of the page.
"""

import json
import re
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from analyzer import sentences, tables, words
from analyzer.clips import Clip
from analyzer.report import curves, note_of, said, title
from analyzer.restating import restated
from analyzer.speech import Spoken, manner, say
from analyzer.survey import StringRow, Survey
from analyzer.words import measured, number, percent

Paper = Literal["a4", "letter"]
PAGES: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}
Block = dict[str, Any]
WORD_N, HEADING_WORD_N = 40, 18
"""Longest stretch without a blank that is set as it is, letters; longer ones may be broken there."""


def render(survey: Survey, charts: Mapping[str, str], clips: Mapping[str, Clip], paper: Paper) -> bytes:
    """The PDF, in the manner of the moment; `charts` are the SVG texts of `figures` by name."""
    import matplotlib
    import typst

    return bytes(
        typst.compile(
            resources.files("analyzer.report").joinpath("paper.typ").read_bytes(),
            format="pdf",
            # DejaVu, which comes with matplotlib, has the shapes and signs; the system's fonts are for typed names only
            font_paths=typst.Fonts(font_paths=[str(Path(matplotlib.get_data_path(), "fonts", "ttf"))]),
            sys_inputs={"document": json.dumps(_document(survey, charts, clips, paper), ensure_ascii=False)},
            timestamp=_moment(survey.made_at),
        )
    )


def _moment(iso: str) -> datetime:
    try:
        moment = datetime.fromisoformat(iso)
    except ValueError:
        return datetime.fromtimestamp(0, UTC)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _document(survey: Survey, charts: Mapping[str, str], clips: Mapping[str, Clip], paper: Paper) -> Block:
    w = Spoken(words)
    kind = w.KIND + (f" · {survey.date}" if survey.date else "")
    return {
        "paper": PAGES[paper],
        "language": manner().language,
        "title": _broken(title(survey), HEADING_WORD_N),
        "kind": kind,
        "page": w.PAGE_OF,
        "basis": f"{_told(survey.layout.title)}. {w.MEASURED_AGAINST} {_told(survey.tuning.setting)}"
        f" ({w.ASSUMED if survey.tuning.settled_by == 'default' else w.STATED}).",
        "blocks": [
            *_opening(survey, w),
            *(_chart(name, charts[name], survey, w) for name in charts),
            *_strings(survey, w),
            *_details(survey, clips, w),
            *_plucks(survey, w),
            *_recording(survey, w),
            *_closing(survey, w),
        ],
    }


# --- blocks


def _heading(text: str, level: int = 1) -> Block:
    return {"kind": "heading", "text": _broken(text, HEADING_WORD_N), "level": level}


def _text(text: str, *, soft: bool = False, sticky: bool = False) -> Block:
    """`sticky`: it stays with what follows."""
    return {"kind": "text", "text": _broken(text), "soft": soft, "sticky": sticky}


def _list(items: Iterable[str], *, numbered: bool = False) -> Block:
    return {"kind": "list", "items": [_broken(item) for item in items], "numbered": numbered}


def _facts(pairs: Iterable[tuple[str, str]], *, rows: bool = False) -> Block:
    return {"kind": "facts", "pairs": [[_broken(a), _broken(b)] for a, b in pairs], "rows": rows}


def _table(caption: str, columns: Iterable[str], sides: str, rows: Iterable[Iterable[Any]], wide: int = -1) -> Block:
    """`sides` is one of l and r for every column; the column `wide` takes the room that is left.

    A row is a cell for every column, a text or states, or a remark on the row above.
    """
    cells = [
        row if isinstance(row, dict) else [_broken(cell) if isinstance(cell, str) else cell for cell in row]
        for row in rows
    ]
    return {
        "kind": "table",
        "caption": caption,
        "columns": list(columns),
        "sides": list(sides),
        "rows": cells,
        "wide": wide,
    }


def _state(key: str) -> dict[str, str]:
    state = words.STATES[key]
    return {"shape": state.shape, "word": say(state.word), "tone": state.tone}


def _told(text: str) -> str:
    return restated(text).text


def _broken(text: str, most_n: int = WORD_N) -> str:
    """The text with places to break (U+200B) in what is too long for a line."""
    return _long_word(most_n).sub(lambda found: found[0] + "\u200b", text)


@cache
def _long_word(most_n: int) -> re.Pattern[str]:
    return re.compile(rf"\S{{{most_n}}}(?=\S)")


# --- the sections, in the order of the page


def _opening(survey: Survey, w: Any) -> Iterable[Block]:
    first = w.FIRST
    parts = [
        {"heading": heading, "items": [_broken(text) for text in texts], "numbered": heading == first}
        for heading, texts in sentences.summary_parts(survey)
    ]
    yield {"kind": "summary", "parts": parts}
    inner: list[Block] = []
    if survey.doubts:
        inner += [_heading(w.DOUBTS, 2), _text(w.DOUBTS_WHY), _list(_told(doubt.sentence) for doubt in survey.doubts)]
    if survey.remarks:
        inner += [_heading(w.REMARKS, 2), _list(map(_told, survey.remarks))]
    if inner:
        yield {"kind": "alert", "blocks": inner}
    yield _heading(w.CAUTIONS)
    yield _list(w.CAUTION_TEXTS)
    yield _heading(w.GLOSSARY)
    yield _facts(w.GLOSSARY_TERMS, rows=True)


def _chart(name: str, svg: str, survey: Survey, w: Any) -> Block:
    heading, alt = {
        "deviation": (w.DEVIATION, sentences.deviation_alt(survey)),
        "decay": (w.DECAY, sentences.decay_alt(survey)),
    }[name]
    return {"kind": "chart", "heading": heading, "svg": svg, "alt": alt}


def _strings(survey: Survey, w: Any) -> Iterable[Block]:
    yield _heading(w.TABLE)
    yield {"kind": "key", "states": [[_state(key), state.meaning] for key, state in w.STATES.items()]}
    caption = w.TABLE_CAPTION_PAPER + (f" {w.HARP_OCTAVES}" if manner().harp_octaves else "")
    columns = [column for key, column in w.COLUMNS.items() if key != "remarks"]
    yield _table(caption, columns, "llrllrrrl", (line for row in survey.strings for line in _string_lines(row)), 4)
    yield _text(w.CSV_BESIDE, soft=True)


def _string_lines(row: StringRow) -> Iterable[Any]:
    """Its line of the table, and one below for its remarks."""
    yield [
        row.string,
        words.note(row.note),
        *measured(row.cents, row.cents_u95),
        [_state(key) for key in words.states(row)],
        words.hertz(row),
        "" if row.match_confidence is None else percent(row.match_confidence),
        *measured(row.decay_s, row.decay_u95_s),
    ]
    if row.remarks:
        yield {"remark": _broken(" ".join(map(_told, row.remarks)))}


def _details(survey: Survey, clips: Mapping[str, Clip], w: Any) -> Iterable[Block]:
    yield _heading(w.DETAILS)
    yield _text(f"{w.SPECTRUM}; {w.SPECTRUM_MARKS}. {w.DECAY_CURVE}; {w.DECAY_CURVE_DASHED}.", soft=True, sticky=True)
    for row, cells in zip(survey.strings, tables.strings_cells(survey), strict=True):
        if row.status == "not heard":
            continue
        yield {
            "kind": "string",
            "note": words.note(row.note),
            "states": [_state(key) for key in words.states(row)],
            "off": _with_unit(measured(row.cents, row.cents_u95), w.CENTS, w),
            "remarks": [_broken(_told(remark)) for remark in row.remarks],
            "facts": _string_facts(row, cells, w),
            "partials": _table(
                "",
                w.PARTIAL_COLUMNS,
                "rrrr",
                (
                    [
                        str(partial.number),
                        number(partial.frequency_hz, 2),
                        number(partial.level_db, 0),
                        "" if partial.t60_s is None else number(partial.t60_s, 1),
                    ]
                    for partial in row.partials
                ),
            ),
            "drawings": [
                {"svg": svg, "alt": alt}
                for svg, alt in (
                    (curves.spectrum(row, clips.get(row.string)), curves.spectrum_alt(row)),
                    (curves.fade(row), curves.fade_alt(row)),
                )
                if svg
            ],
        }


def _string_facts(row: StringRow, cells: dict[str, str], w: Any) -> list[list[str]]:
    def known(value: float | None, text: str) -> str:
        return str(w.NOT_KNOWN) if value is None else text

    names = (name for key, name in w.DETAIL.items() if key != "off")  # which stands in its heading
    values = (
        f"{words.note(row.note)}, {number(row.target_hz, 2)} Hz",
        known(row.pitch_hz, f"{words.hertz(row)} Hz"),
        known(row.match_confidence, percent(row.match_confidence or 0.0)),
        known(row.onset_s, f"{number(row.onset_s or 0.0, 2)} s"),
        _with_unit(measured(row.decay_s, row.decay_u95_s), "s", w),
        known(row.expected_decay_s, f"{number(row.expected_decay_s or 0.0, 1)} s"),
        known(row.brightness_db, f"{number(row.brightness_db or 0.0, 1)} dB"),
        known(row.dull_probability, percent(row.dull_probability or 0.0)),
        known(row.false_probability, percent(row.false_probability or 0.0)),
        words.localised(cells["inharmonicity"]) or str(w.NOT_KNOWN),
    )
    return [[name, value] for name, value in zip(names, values, strict=True)]


def _with_unit(pair: tuple[str, str], unit: str, w: Any) -> str:
    return " ".join(filter(None, [*pair, unit])) if pair[0] else str(w.NOT_KNOWN)


def _plucks(survey: Survey, w: Any) -> Iterable[Block]:
    yield _heading(w.PLUCKS)
    rows = [
        [
            number(pluck.onset_s, 1),
            note_of(survey, pluck),
            _told(pluck.reason),
            "" if pluck.pitch_hz is None else number(pluck.pitch_hz, 1),
            number(pluck.level_db, 0),
        ]
        for pluck in survey.plucks
        if not pluck.counted
    ]
    yield _table(w.PLUCKS_CAPTION, w.PLUCK_COLUMNS, "rllrr", rows, 2) if rows else _text(w.NO_PLUCKS)


def _recording(survey: Survey, w: Any) -> Iterable[Block]:
    yield _heading(w.RECORDING)
    for recording in survey.recordings:
        yield _heading(recording.name, 2)
        for severity, (shape, word) in w.SEVERITIES.items():
            for finding in recording.findings:
                if finding.severity == severity:
                    yield {
                        "kind": "finding",
                        "state": {"shape": shape, "word": word, "tone": "open" if severity == "note" else "bad"},
                        "what": _told(finding.what),
                        "lines": [
                            f"{w.SPOILS}: {_told(finding.spoils)}",
                            f"{w.REMEDY}: {_told(finding.remedy)}",
                        ],
                    }
        if not recording.findings:
            yield _text(w.NO_FINDINGS)
        yield _facts(words.recording_facts(recording))


def _closing(survey: Survey, w: Any) -> Iterable[Block]:
    yield _heading(w.METHOD)
    for text in w.METHOD_TEXTS:
        yield _text(text)
    facts, basis = w.METHOD_FACTS, _told(survey.layout.basis)
    if survey.layout.source:
        basis += f": {_told(survey.layout.source)}"
    pairs = [
        (facts["title"], survey.title),
        (facts["layout"], f"{_told(survey.layout.title)} ({survey.layout.name})"),
        (facts["basis"], basis),
        (facts["setting"], _told(survey.tuning.setting)),
        (w.FITS_A4, "" if survey.a4_that_fits_hz is None else f"A4 = {number(survey.a4_that_fits_hz, 1)} Hz"),
        (facts["order"], f"{w.ORDERS[survey.order]} ({percent(survey.order_confidence)})"),
        (facts["clock"], w.CLOCK.format(number(survey.clock_u95_cents, 2))),
        (facts["said"], "; ".join(f"{option}: {value}" for option, value in said(survey))),
        (facts["made"], survey.made_at),
        (facts["version"], f"{words.PROGRAM} {survey.program_version}"),
        (facts["libraries"], ", ".join(f"{name} {version}" for name, version in survey.libraries.items())),
    ]
    yield _facts((pair for pair in pairs if pair[1]), rows=True)
    yield {"kind": "hashes", "rows": [[_broken(one.name), f"SHA-256 {one.sha256}"] for one in survey.recordings]}
    yield _heading(w.SETTINGS, 2)
    settings = (
        (section, ", ".join(f"{name} {value}" for name, value in values.items()))
        for section, values in survey.settings.items()
    )
    yield {**_facts(settings, rows=True), "small": True}
    yield {"kind": "sign", "heading": w.SIGNED, "text": w.SIGN_TEXT, "lines": list(w.SIGN_LINES)}
