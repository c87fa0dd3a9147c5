"""A survey on paper: the report's content as a PDF for A4 or Letter, to print, sign and file.

Set by Typst (the `typst` package carries its compiler and fonts: no browser, no TeX, no network; chosen over libraries
that need system libraries, or that leave page breaks, running heads and repeated table heads to us). The document is
handed over as data, so that nothing a person typed can be taken for markup; how each kind of block looks is in
report/paper.typ. Words, figures and numbers are those of the page.
"""

import json
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from analyzer import sentences, tables, words
from analyzer.clips import Clip
from analyzer.outlook import Outlook, look_ahead
from analyzer.pdf_blocks import (
    HEADING_WORD_N,
    Block,
    broken,
    facts,
    heading,
    items_list,
    state_of,
    table,
    text_block,
    told,
)
from analyzer.pdf_plan import next_blocks
from analyzer.report import curves, first_line, grave, note_of, said, title
from analyzer.speech import Spoken, manner
from analyzer.survey import StringRow, Survey
from analyzer.words import measured, number, percent

Paper = Literal["a4", "letter"]
PAGES: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}


def render(
    survey: Survey,
    charts: Mapping[str, str],
    clips: Mapping[str, Clip],
    paper: Paper,
    outlook: Outlook | None = None,
) -> bytes:
    """The PDF, in the manner of the moment.

    `charts` are the SVG texts of `figures` by name; `outlook` is what lies ahead, by default with nothing answered.
    """
    import matplotlib
    import typst

    document = _document(survey, charts, clips, paper, outlook or look_ahead(survey))
    return bytes(
        typst.compile(
            resources.files("analyzer.report").joinpath("paper.typ").read_bytes(),
            format="pdf",
            # DejaVu, which comes with matplotlib, has the shapes and signs; the system's fonts are for typed names only
            font_paths=typst.Fonts(font_paths=[str(Path(matplotlib.get_data_path(), "fonts", "ttf"))]),
            sys_inputs={"document": json.dumps(document, ensure_ascii=False)},
            timestamp=_moment(survey.made_at),
        )
    )


def _moment(iso: str) -> datetime:
    try:
        moment = datetime.fromisoformat(iso)
    except ValueError:
        return datetime.fromtimestamp(0, UTC)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _document(
    survey: Survey, charts: Mapping[str, str], clips: Mapping[str, Clip], paper: Paper, outlook: Outlook
) -> Block:
    w = Spoken(words)
    kind = w.KIND + (f" · {survey.date}" if survey.date else "")
    return {
        "paper": PAGES[paper],
        "language": manner().language,
        "title": broken(title(survey), HEADING_WORD_N),
        "kind": kind,
        "page": w.PAGE_OF,
        "basis": f"{told(survey.layout.title)}. {w.MEASURED_AGAINST} {told(survey.tuning.setting)}"
        f" ({w.ASSUMED if survey.tuning.settled_by == 'default' else w.STATED}).",
        "blocks": [
            *_opening(survey, outlook, w),
            *(_chart(name, charts[name], survey, w) for name in charts),
            *_strings(survey, w),
            *_details(survey, clips, w),
            *_plucks(survey, w),
            *_by_eye(survey, w),
            *next_blocks(survey, outlook, w),
            *_recording(survey, w),
            *_closing(survey, w),
        ],
    }


# --- the sections, in the order of the page


def _opening(survey: Survey, outlook: Outlook, w: Any) -> Iterable[Block]:
    verdict, rest = first_line(survey, outlook)
    yield {
        "kind": "first",
        "verdict": verdict,
        "rest": broken(rest),
        "tone": "bad" if grave(outlook) else "good",
    }
    first = w.FIRST
    parts = [
        {"heading": heading, "items": [broken(text) for text in texts], "numbered": heading == first}
        for heading, texts in sentences.summary_parts(survey, outlook.answers)
    ]
    yield {"kind": "summary", "parts": parts}
    inner: list[Block] = []
    if survey.doubts:
        inner += [
            heading(w.DOUBTS, 2),
            text_block(w.DOUBTS_WHY),
            items_list(told(doubt.sentence) for doubt in survey.doubts),
        ]
    if survey.remarks:
        inner += [heading(w.REMARKS, 2), items_list(map(told, survey.remarks))]
    if inner:
        yield {"kind": "alert", "blocks": inner}
    yield heading(w.CAUTIONS)
    yield items_list(w.CAUTION_TEXTS)
    yield heading(w.GLOSSARY)
    yield facts(w.GLOSSARY_TERMS, rows=True)


def _chart(name: str, svg: str, survey: Survey, w: Any) -> Block:
    heading, alt = {
        "deviation": (w.DEVIATION, sentences.deviation_alt(survey)),
        "decay": (w.DECAY, sentences.decay_alt(survey)),
    }[name]
    return {"kind": "chart", "heading": heading, "svg": svg, "alt": alt}


def _strings(survey: Survey, w: Any) -> Iterable[Block]:
    yield heading(w.TABLE)
    yield {"kind": "key", "states": [[state_of(key), state.meaning] for key, state in w.STATES.items()]}
    caption = w.TABLE_CAPTION_PAPER + (f" {w.HARP_OCTAVES}" if manner().harp_octaves else "")
    columns = [column for key, column in w.COLUMNS.items() if key != "remarks"]
    yield table(caption, columns, "llrllrrrl", (line for row in survey.strings for line in _string_lines(row)), 4)
    yield text_block(w.CSV_BESIDE, soft=True)


def _string_lines(row: StringRow) -> Iterable[Any]:
    """Its line of the table, and one below for its remarks."""
    yield [
        row.string,
        words.note(row.note),
        *measured(row.cents, row.cents_u95),
        [state_of(key) for key in words.states(row)],
        words.hertz(row),
        "" if row.match_confidence is None else percent(row.match_confidence),
        *measured(row.decay_s, row.decay_u95_s),
    ]
    if row.remarks:
        yield {"remark": broken(" ".join(map(told, row.remarks)))}


def _details(survey: Survey, clips: Mapping[str, Clip], w: Any) -> Iterable[Block]:
    yield heading(w.DETAILS)
    yield text_block(
        f"{w.SPECTRUM}; {w.SPECTRUM_MARKS}. {w.DECAY_CURVE}; {w.DECAY_CURVE_DASHED}.", soft=True, sticky=True
    )
    for row, cells in zip(survey.strings, tables.strings_cells(survey), strict=True):
        if row.status == "not heard":
            continue
        yield {
            "kind": "string",
            "note": words.note(row.note),
            "states": [state_of(key) for key in words.states(row)],
            "off": _with_unit(measured(row.cents, row.cents_u95), w.CENTS, w),
            "remarks": [broken(told(remark)) for remark in row.remarks],
            "facts": _string_facts(row, cells, w),
            "partials": table(
                "",
                w.PARTIAL_COLUMNS,
                "rrrr",
                (words.partial_cells(partial) for partial in row.partials),
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
        words.beats(row),
        words.loss(row),
        words.localised(cells["inharmonicity"]) or str(w.NOT_KNOWN),
    )
    return [[name, value] for name, value in zip(names, values, strict=True)]


def _with_unit(pair: tuple[str, str], unit: str, w: Any) -> str:
    return " ".join(filter(None, [*pair, unit])) if pair[0] else str(w.NOT_KNOWN)


def _plucks(survey: Survey, w: Any) -> Iterable[Block]:
    yield heading(w.PLUCKS)
    rows = [
        [
            number(pluck.onset_s, 1),
            note_of(survey, pluck),
            told(pluck.reason),
            "" if pluck.pitch_hz is None else number(pluck.pitch_hz, 1),
            number(pluck.level_db, 0),
        ]
        for pluck in survey.plucks
        if not pluck.counted
    ]
    yield table(w.PLUCKS_CAPTION, w.PLUCK_COLUMNS, "rllrr", rows, 2) if rows else text_block(w.NO_PLUCKS)


def _by_eye(survey: Survey, w: Any) -> Iterable[Block]:
    if survey.by_eye:
        yield heading(w.BY_EYE)
        yield text_block(w.BY_EYE_TEXT)
        yield items_list(f"{names}: {what}" for names, what in sentences.by_eye(survey))


def _recording(survey: Survey, w: Any) -> Iterable[Block]:
    yield heading(w.RECORDING)
    for recording in survey.recordings:
        yield heading(recording.name, 2)
        for severity, (shape, word) in w.SEVERITIES.items():
            for finding in recording.findings:
                if finding.severity == severity:
                    yield {
                        "kind": "finding",
                        "state": {
                            "shape": shape,
                            "word": word,
                            "tone": "open" if severity == "note" else "bad",
                        },
                        "what": told(finding.what),
                        "lines": [
                            f"{w.SPOILS}: {told(finding.spoils)}",
                            f"{w.REMEDY}: {told(finding.remedy)}",
                        ],
                    }
        if not recording.findings:
            yield text_block(w.NO_FINDINGS)
        yield facts(words.recording_facts(recording))


def _closing(survey: Survey, w: Any) -> Iterable[Block]:
    yield heading(w.METHOD)
    for text in w.METHOD_TEXTS:
        yield text_block(text)
    names, basis = w.METHOD_FACTS, told(survey.layout.basis)
    if survey.layout.source:
        basis += f": {told(survey.layout.source)}"
    pairs = [
        (names["title"], survey.title),
        (names["layout"], f"{told(survey.layout.title)} ({survey.layout.name})"),
        (names["basis"], basis),
        (names["setting"], told(survey.tuning.setting)),
        (w.FITS_A4, "" if survey.a4_that_fits_hz is None else f"A4 = {number(survey.a4_that_fits_hz, 1)} Hz"),
        (names["order"], f"{w.ORDERS[survey.order]} ({percent(survey.order_confidence)})"),
        (names["clock"], w.CLOCK.format(number(survey.clock_u95_cents, 2))),
        (names["said"], "; ".join(f"{option}: {value}" for option, value in said(survey))),
        (names["made"], survey.made_at),
        (names["version"], f"{words.PROGRAM} {survey.program_version}"),
        (names["libraries"], ", ".join(f"{name} {version}" for name, version in survey.libraries.items())),
    ]
    yield facts((pair for pair in pairs if pair[1]), rows=True)
    yield {
        "kind": "hashes",
        "rows": [[broken(one.name), f"SHA-256 {one.sha256}"] for one in survey.recordings],
    }
    yield text_block(w.SETTINGS_BESIDE, soft=True)
    yield {"kind": "sign", "heading": w.SIGNED, "text": w.SIGN_TEXT, "lines": list(w.SIGN_LINES)}
