"""`harp-survey demo`: the whole job on an invented harp, before and after."""

import argparse
import sys
from pathlib import Path

from analyzer.cli import manner


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The words of this command."""
    words = commands.add_parser(
        "demo",
        help="try it all on an invented neglected harp",
        description="Synthesises an invented neglected harp, before and after it was seen to, and surveys both.",
    )
    words.add_argument(
        "--out", type=manner.folder, default=Path("harp-demo"), metavar="DIR", help="folder for it all (harp-demo)"
    )
    manner.add(words)
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Synthesise, analyse both, say where the reports are."""
    from analyzer import demo
    from analyzer.cli.analyze import write
    from analyzer.cli.moment import now
    from analyzer.cli.progress import telling
    from analyzer.layout import load_layout
    from analyzer.request import Request
    from analyzer.sentences import summary
    from analyzer.settings import Settings
    from analyzer.speech import mark, say
    from analyzer.tuning import make_tuning

    told = {"before": mark("Before the repair"), "after": mark("After the repair")}

    with manner.spoken(words), telling() as tell:
        tell("synthesising an invented harp")
        from analyzer.pipeline import analyze

        words.out.mkdir(parents=True, exist_ok=True)
        recordings = demo.write_demo_recordings(words.out)
        layout = load_layout(demo.LAYOUT)
        tuning = make_tuning(layout, demo.TUNING, levers=demo.LEVERS)
        for state, recording, date in zip(("before", "after"), recordings, demo.DATES, strict=True):
            request = Request(
                recordings=(recording,),
                layout=layout,
                tuning=tuning,
                title=demo.HARP_NAME,
                date=date,
                missing=frozenset(demo.MISSING) if state == "before" else frozenset(),
                said={"layout": demo.LAYOUT, "tuning": demo.TUNING, "levers": demo.LEVERS}
                | ({"missing": ",".join(demo.MISSING)} if state == "before" else {}),
                made_at=now(),
            )
            survey = analyze(request, Settings(), tell)
            write(survey, words.out / state, [recording])
            sys.stderr.write(f"{say(told[state])}: {' '.join(summary(survey))}\n")
        sys.stderr.write(say("This harp is invented. The reports:") + "\n")
    for state in ("before", "after"):
        sys.stdout.write(f"{words.out / state / 'report.html'}\n")
    return 0
