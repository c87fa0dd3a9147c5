"""What a beginner is to look at where the recording can be read in another way too, and why, in plain words."""

from analyzer.doubts import LAYOUT, LEVERS, LOWERED, RAISED
from analyzer.survey import Doubt, Survey

_NOT_YET = "Until that is settled, do not tune by anything on this page."
_OFF = "off (open, so that none presses on its string), then record"
_EITHER = (
    "From the sound alone nobody can tell a harp that is out of tune from one whose strings are set to other notes."
)


def to_settle(survey: Survey, doubt: Doubt) -> tuple[str, str]:
    """(What to do, why)."""
    lever = survey.layout.kind == "lever"
    if doubt.code == LAYOUT:
        return (
            "Count the strings of your harp, and tell your teacher how many there are and which notes the longest and"
            " the shortest have.",
            "More strings were heard than the harp has that your teacher named to the program: every name may be wrong."
            f" {_NOT_YET}",
        )
    if doubt.code == RAISED and lever:
        return (
            f"Look at the levers of these strings. Put them {_OFF} these strings again.",
            f"They sound a half step higher than the strings beside them, as with the lever on. {_NOT_YET}",
        )
    if doubt.code == RAISED:
        return (
            "Show these to your teacher before they are tuned: perhaps a pedal still holds them.",
            f"They sound a half step higher than the strings beside them. {_NOT_YET}",
        )
    if doubt.code == LOWERED:
        return (
            "Look at the levers of these strings, and tell your teacher whether they were on when you recorded.",
            f"They sound a half step lower than the strings beside them, as with the lever off. {_NOT_YET}",
        )
    if lever and survey.tuning.settled_by == "person" and doubt.code != LEVERS:
        what = (
            f"Look at every lever again. Put all levers {_OFF} the whole harp again; if they stood as you said, tell"
            " your teacher."
        )
    elif lever:
        what = f"Put all levers {_OFF} the whole harp again."
    elif survey.layout.kind == "pedal":
        what = "Put all seven pedals in their top place, then record the whole harp again."
    else:
        what = "Ask your teacher which key the harp is tuned to, then record it again and say so."
    return what, f"{_EITHER} {_NOT_YET}"
