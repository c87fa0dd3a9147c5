"""`harp-survey reply`: one page in plain words for the student who sent a recording."""

import argparse
import sys
from pathlib import Path

from analyzer.cli import manner


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The words of this command."""
    words = commands.add_parser(
        "reply",
        help="a page in plain words for whoever sent the recording",
        description="At most five things to do next, the most useful first. Surveys of strings recorded again are"
        " merged into the first.",
    )
    words.add_argument("survey", type=Path, metavar="SURVEY_FOLDER", help="what analyze wrote")
    words.add_argument("later", nargs="*", type=Path, metavar="LATER", help="surveys of strings recorded again")
    words.add_argument("--out", required=True, type=manner.folder, metavar="DIR", help="folder for reply.html")
    words.add_argument("--note", default="", help="the teacher's own words, which travel with the page")
    words.add_argument("--from", dest="note_by", default="", metavar="NAME", help="the teacher's name")
    manner.add(words)
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Merge, write everything or nothing, and say what the page says first."""
    import msgspec

    from analyzer.answers import fingerprint, read_kept
    from analyzer.merging import check_whole, merge
    from analyzer.outlook import settled
    from analyzer.questions import needs_advice
    from analyzer.reply import reply
    from analyzer.report import reply_page
    from analyzer.restating import restated_each
    from analyzer.settings import Settings
    from analyzer.signing import check_unsigned
    from analyzer.survey import read_survey, to_json
    from analyzer.writing import write_files

    check_unsigned(words.out)
    survey = read_survey(words.survey)
    check_whole(survey, str(words.survey))
    for folder in words.later:
        survey = merge(survey, read_survey(folder))
    settings = Settings().reply
    kept = read_kept(words.survey if words.survey.is_dir() else words.survey.parent)
    planned = kept is not None and kept.fingerprint == fingerprint(survey) and not needs_advice(kept.answers)
    page = reply(
        settled(survey, kept),
        note=words.note,
        note_by=words.note_by,
        passes_n=len(kept.turns) if kept and planned else None,
        settings=settings,
    )
    with manner.spoken(words):
        files: dict[str, bytes | str] = {
            "reply.html": reply_page.render(page, settings),
            "reply.json": msgspec.json.format(msgspec.json.encode(page), indent=1) + b"\n",
        }
        if words.later:
            files["survey.json"] = to_json(survey)
        write_files(words.out, files)
        for number, task in enumerate(page.tasks, start=1):
            sys.stderr.write(f"{number}. {' '.join(one.text for one in restated_each(task.what))}\n")
        manner.tell_page(words.out / "reply.html")
    return 0
