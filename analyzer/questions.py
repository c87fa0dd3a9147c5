"""Questions: what must be answered before a plan, and whether the answers fit the survey.

Conventions: strings by letter and octave. The inspection is by eye, and its result is words, English or German: "good"
(or sound, fine, nothing found, in Ordnung, …) lets the plan go on; any other words are a finding, and then a qualified
harp technician has to have agreed.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from analyzer import words
from analyzer.answers import Answers, first_said
from analyzer.doubts import LAYOUT
from analyzer.errors import UnusableInput
from analyzer.notes import in_words
from analyzer.restating import restated, restated_each
from analyzer.settings import PlanSettings
from analyzer.speech import say
from analyzer.survey import Doubt, StringRow, Survey
from analyzer.tuning import OFF_PEDALS, Target, make_tuning

Code = Literal["levers", "pedals", "tuning", "doubts", "inspected", "strings", "advice"]

LOOK_AT = (
    "the soundboard, inside and out: cracked, lifting from its frame, or pulled up more than it was",
    "the neck: cracked, twisted, or leaning out of line with the strings",
    "the joints of neck, pillar and body: any gap that a card goes into",
    "the base and the pillar: cracked, or coming away",
    "the tuning pins: loose, bent, or turning back by themselves",
    "the bridge pins and the holes in the soundboard: leaning, worn, or with splits running from them",
)
"""What an inspection by eye looks at."""

_GOOD = re.compile(
    r"(?:(?:all|everything|alles|is|ist|in|very|sehr|looks|sieht) )*"
    r"(?:good|sound|fine|ok|okay|intact|nothing found|no faults?"
    r"|gut|in ordnung|einwandfrei|intakt|heil|nichts gefunden|keine mängel)(?: condition| order| throughout| aus)?!*",
    re.I,
)
"""What an inspection that found nothing says first, and nothing more before the next comma: "fine lines" is another."""
_REASSURING = re.compile(
    r"(?:.* )?(?:flat|tight|straight|firm|closed|sound|good|fine|ok|intact"
    r"|eben|fest|dicht|gerade|geschlossen|gut|heil|in ordnung)!*",
    re.I,
)
_LESSENED = re.compile(r"n't\b|\b(?:not?|never|hardly|nearly|only|nicht|nie|kaum|fast|nur|kein\w*)\b", re.I)
_PLACE = re.compile(
    r"(?:the |die |der )?(?:soundboard|neck|joints?|base|pillar|body|pins?|resonanzdecke|decke|hals|verbindung(?:en)?"
    r"|fugen?|fuß|säule|korpus|wirbel|stifte?)",
    re.I,
)
_ALARM = re.compile(
    r"crack|split|lift|rais|rise|rising|bow|bulg|belly|gap|open|loose|twist|lean|bent|warp|worm|rot|damag|broken|worn"
    r"|damp|mould|repair|glue|pull|com(?:es|ing) (?:off|away)|came (?:off|away)|turn(?:s|ing|ed)? back|slip"
    r"|\bdent|\bhole|deform|no longer"
    r"|riss|sprung|spalt|offen|lose|locker|heb|hebt|gehoben|hoch|wölb|beul|verdreh|verzog|schief|krumm|gebogen"
    r"|bruch|brochen|beschädig|schaden|wurm|faul|feucht|schimmel|leim|lös|rutsch|delle|loch|löcher|nicht mehr",
    re.I,
)
_UNSEEN = re.compile(
    r"unsure|n(?:o|')t (?:sure|look|check|inspect|seen|know|examin|tell|inside|see\b)|no idea|nobody|no one|\?"
    r"|unsicher|nicht (?:sicher|innen|geprüft|untersucht|(?:an|nach|rein|hinein)?ge(?:sehen|schaut))|niemand"
    r"|weiß (?:es )?nicht|keine ahnung",
    re.I,
)
"""Words of one who has not looked, or does not know: no denial of a fault, though they begin like one."""
_PARTS = re.compile(r"[,;:.]|\b(?:but|and|aber|und)\b", re.I)
_EXCEPTED = re.compile(r"\b(?:except|apart from|außer|bis auf)\b", re.I)
_DENIED = re.compile(
    r"\s*(?:and |und )?(?:no|not|nothing|without|neither|nor|keine?[nrs]?|nicht|nichts|ohne|weder|noch)\b"
    r"(?! (?:longer|mehr|without|ohne|only|nur|just|doubt|zweifel|glue|leim)\b)",
    re.I,
)
_DEFAULTS = PlanSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Something still to be answered."""

    code: Code
    short: str
    """`not inspected`."""
    sentence: str
    """What to look at or think of, and how to say it."""
    ask: str
    """The question as put to a person who sits at the keyboard; empty where no answer there settles it."""


def in_doubt(row: StringRow, settings: PlanSettings = _DEFAULTS) -> str:
    """Why this string needs to be looked at by hand before it is raised; empty where it does not."""
    if row.status == "not heard":
        return ""
    if row.status == "uncertain":
        return "it may be another string"
    if row.cents is None:
        return "its pitch could not be measured"
    if row.match_confidence is None or row.match_confidence < settings.doubt_confidence:
        return "it is not surely recognised"
    if row.cents <= -settings.doubt_low_cents:
        return f"{-row.cents:.0f} cents low: very slack, the neighbour, or the wrong string fitted"
    return ""


def confirmed(string: str, answers: Answers) -> bool:
    """Whether the person looked at it by hand."""
    return answers.confirm_all or string in answers.confirmed


def absent(survey: Survey, answers: Answers) -> tuple[str, ...]:
    """Strings not heard that the person says are not there."""
    return tuple(
        r.string
        for r in survey.strings
        if r.status == "not heard"
        and r.string not in answers.fitted
        and (said_missing(r, survey) or confirmed(r.string, answers))
    )


def said_missing(row: StringRow, survey: Survey) -> bool:
    """Whether the person said with the recording that it is not on the harp."""
    named = (word.strip() for word in survey.said.get("missing", "").split(","))
    return words.SAID_MISSING in row.remarks or row.string in named


def taken_for(row: StringRow, survey: Survey) -> tuple[str, float] | None:
    """The string that the sound of one not heard was perhaps taken for, and how likely that is; None where none is."""
    chances = [
        (chance, pluck.string)
        for pluck in survey.plucks
        for other, chance in pluck.also_possible
        if other == row.string and pluck.string is not None
    ]
    if row.status != "not heard" or not chances:
        return None
    chance, string = max(chances)
    return string, chance


def absence(row: StringRow, survey: Survey) -> float:
    """Probability that no sound of the recording is of this string."""
    return max(0.0, 1.0 - sum(dict(p.posterior or p.also_possible).get(row.string, 0.0) for p in survey.plucks))


def inspection_good(said: str) -> bool:
    """Whether the words of an inspection say that nothing was found: that it is good, and besides only which faults
    there are not and what is as it should be. Words that are not known may name a fault."""
    first, *rest = (part.strip() for part in _PARTS.split(said))
    if _UNSEEN.search(said) or _EXCEPTED.search(said) or not _GOOD.fullmatch(first):
        return False
    denied = False
    for part in filter(None, rest):
        denied = bool(_DENIED.match(part)) or (denied and len(part.split()) == 1)  # "no cracks and gaps"
        fault = _ALARM.search(part) is not None
        well = _REASSURING.fullmatch(part) or _GOOD.fullmatch(part) or _PLACE.fullmatch(part)
        if not (fault if denied else well and not fault and not _LESSENED.search(part)):
            return False
    return True


def needs_advice(answers: Answers) -> bool:
    """Whether what was said of the harp forbids any plan until a qualified harp technician has agreed."""
    found = answers.inspected is not None and not inspection_good(answers.inspected)
    return (found or bool(answers.historical)) and not answers.advised_by


def open_questions(survey: Survey, answers: Answers, settings: PlanSettings = _DEFAULTS) -> tuple[Question, ...]:
    """What must be answered before a plan, in the order to ask; none when all is."""
    asked = (
        _about_doubts(survey, answers),  # before the setting: its answer settles both, and has to be given knowingly
        _about_setting(survey, answers),
        _about_inspection(answers),
        _about_strings(survey, answers, settings),
        _about_advice(survey, answers),
    )
    return tuple(q for some in asked for q in some)


def contradiction(survey: Survey, answers: Answers) -> str:
    """A sentence where the answers say another setting than the survey was measured against, else empty."""
    if answers.levers is None and answers.pedals is None and answers.key is None:
        return ""
    now = make_tuning(
        survey.layout,
        first_said(answers.key, None if answers.pedals is not None else survey.tuning.key),
        a4_hz=survey.tuning.a4_hz,
        levers=first_said(answers.levers, survey.said.get("levers") if survey.layout.kind == "lever" else None),
        pedals=first_said(answers.pedals, survey.said.get("pedals") if survey.layout.kind == "pedal" else None),
    )
    own = _own_targets(survey)
    other = [
        a.string
        for a, b in zip(survey.tuning.targets, now.targets, strict=True)
        if a.string not in own
        and (a.raised_semitones, a.note) != (b.raised_semitones, b.note)
        and not (survey.layout.kind == "pedal" and a.string in OFF_PEDALS)
    ]
    if not other:
        return ""
    said = {"--levers": answers.levers, "--pedals": answers.pedals, "--tuning": answers.key}
    given = " ".join(f"{option} {value!r}" for option, value in said.items() if value is not None)
    return (
        f"the survey was measured against {survey.tuning.setting}, and {given} says otherwise"
        f" ({_some(other)}); run harp-survey analyze again with {given}, then plan from that."
    )


def _some(strings: Sequence[str]) -> str:
    return strings[0] if len(strings) == 1 else f"{len(strings)} strings, {strings[0]} among them"


def _own_targets(survey: Survey) -> set[str]:
    """Strings that the person gave a target of their own."""
    if "own targets" not in survey.tuning.setting:
        return set()
    plain: tuple[Target, ...] = make_tuning(
        survey.layout,
        survey.tuning.key,
        a4_hz=survey.tuning.a4_hz,
        levers=survey.said.get("levers") if survey.layout.kind == "lever" else None,
        pedals=survey.said.get("pedals") if survey.layout.kind == "pedal" else None,
    ).targets
    return {a.string for a, b in zip(survey.tuning.targets, plain, strict=True) if a != b}


def _about_setting(survey: Survey, answers: Answers) -> Sequence[Question]:
    stated = set(survey.tuning.stated)
    questions = []
    if survey.layout.kind == "lever" and "levers" not in stated and answers.levers is None:
        questions.append(
            Question(
                code="levers",
                short="levers not stated",
                sentence="say what the levers were set to at the recording: --levers off, or the strings whose"
                " levers were on.",
                ask="What were the levers set to at the recording (off, on, or the strings whose levers were on)?",
            )
        )
    if survey.layout.kind == "pedal" and "pedals" not in stated and answers.pedals is None:
        questions.append(
            Question(
                code="pedals",
                short="pedals not stated",
                sentence="say what the pedals were set to at the recording: --pedals flat, natural, sharp or all"
                " seven.",
                ask="What were the pedals set to at the recording (flat, natural, sharp, or all seven:"
                " D C Bb Eb F G A)?",
            )
        )
    if survey.layout.kind != "pedal" and "key" not in stated and answers.key is None:
        questions.append(
            Question(
                code="tuning",
                short="open tuning not stated",
                sentence=f"say what the open strings are tuned to, such as --tuning {survey.tuning.key}.",
                ask="What are the open strings to be tuned to (a key: C, E-flat, F, …)?",
            )
        )
    return questions


def open_doubts(survey: Survey, answers: Answers) -> tuple[Doubt, ...]:
    """The doubts that the answers leave: of the setting none once it is said again; no answer settles the layout."""
    said = first_said(answers.levers, answers.pedals, answers.key) is not None
    return tuple(d for d in survey.doubts if d.code == LAYOUT or not said)


def _about_doubts(survey: Survey, answers: Answers) -> Sequence[Question]:
    """A reading that fits another key or setting is settled by saying the setting, once the doubt is known."""
    doubts = open_doubts(survey, answers)
    if not doubts:
        return ()
    if layout := next((d for d in doubts if d.code == LAYOUT), None):
        return (Question(code="doubts", short="the recording fits another harp", sentence=layout.sentence, ask=""),)
    option = {"lever": "--levers", "pedal": "--pedals", "none": "--tuning"}[survey.layout.kind]
    reasons = " ".join(d.sentence for d in doubts)
    return (
        Question(
            code="doubts",
            short="the recording fits another reading too",
            sentence=f"{reasons} Look at the harp, then say {option} here if the survey has it right"
            f" ({survey.tuning.setting}); if not, run harp-survey analyze again with what it is.",
            ask=f"{reasons} The survey assumes {survey.tuning.setting}. What were the {option[2:]} in truth?",
        ),
    )


def _about_inspection(answers: Answers) -> Sequence[Question]:
    if answers.inspected is None:
        return (
            Question(
                code="inspected",
                short="not inspected: do not raise",
                sentence=f"look at {'; '.join(LOOK_AT)}; then say --inspected good, or in words what you found.",
                ask="Look at the harp: " + "; ".join(LOOK_AT) + ". What did you find ('good', or in words)?",
            ),
        )
    if inspection_good(answers.inspected) or answers.advised_by:
        return ()
    return (
        Question(
            code="advice",
            short=f"inspected: {answers.inspected!r}: do not raise",
            sentence="stop and ask a qualified harp technician; once one has looked at it and agreed, say"
            " --advised-by NAME (or --inspected good, if nothing was found after all).",
            ask="Which qualified harp technician has looked at that and agreed that the harp be raised (name, or"
            " empty)?",
        ),
    )


def _about_strings(survey: Survey, answers: Answers, settings: PlanSettings) -> Sequence[Question]:
    reasons: Mapping[str, str] = {
        r.string: why
        for r in survey.strings
        if (why := in_doubt(r, settings) or _perhaps_heard(r, survey, answers))
        and not confirmed(r.string, answers)
        and r.string not in answers.replaced
    }
    if not reasons:
        return ()
    names = ",".join(reasons)
    alike = {why: [string for string, own in reasons.items() if own == why] for why in reasons.values()}
    listed = "; ".join(f"{in_words(strings)}: {why}" for why, strings in alike.items())
    others = [
        r.string
        for r in survey.strings
        if r.status == "not heard" and r.string not in (*reasons, *absent(survey, answers), *answers.fitted)
    ]
    are = "is" if len(others) == 1 else "are"
    every = f" --confirm all says too that {in_words(others)} {are} not on the harp." if others else ""
    return (
        Question(
            code="strings",
            short=f"not confirmed by hand: {', '.join(reasons)}",
            sentence=f"look and pluck ({listed}); then say --confirm {names} for those that are what the survey says,"
            f" --replace for those to be taken off; or record them again.{every}",
            ask=f"Look at these strings and pluck them: {listed}. Which are what the survey says (names, all, or"
            " none)?",
        ),
    )


def _perhaps_heard(row: StringRow, survey: Survey, answers: Answers) -> str:
    """Why one not heard has to be looked for; empty where its sound can hardly be among those heard."""
    taken = taken_for(row, survey)
    if taken is None or said_missing(row, survey) or row.string in answers.fitted:
        return ""
    return f"not heard, or its sound was taken for {taken[0]} ({taken[1]:.0%})"


def _about_advice(survey: Survey, answers: Answers) -> Sequence[Question]:
    if answers.advised_by:
        return ()
    plain_wire = sum(s.material in ("steel", "brass") for s in survey.layout.strings)
    wire_strung = 2 * plain_wire > len(survey.layout.strings)
    if not wire_strung and not answers.historical:
        return ()
    what = "a historical harp" if answers.historical else "a wire-strung harp"
    return (
        Question(
            code="advice",
            short=f"{what}: no plan without advice",
            sentence=f"{what} is not raised on a computed plan (no load of one is published); ask a qualified harp"
            " technician first, then say --advised-by NAME.",
            ask=f"This is {what}. Which qualified harp technician has agreed that it be raised (name, or empty)?",
        ),
    )


def refuse(questions: Sequence[Question]) -> UnusableInput:
    """The error that says what was not answered, a line for each, in the language of the moment."""
    shorts = "; ".join(restated(q.short).text for q in questions)
    sentences = [" ".join(one.text for one in restated_each(q.sentence)) for q in questions]
    how = "".join(f"\n  ({n}) {text[0].upper()}{text[1:]}" for n, text in enumerate(sentences, start=1))
    return UnusableInput(say("no plan yet: {shorts}. {how}").format(shorts=shorts, how="").rstrip() + how)
