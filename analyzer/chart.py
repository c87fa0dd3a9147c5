"""What every chart of a harp shares: its strings as upright lines, the shapes of their states, and the
colours.

Strings stand side by side in their order, the lowest at the left, drawn as on a harp: every C red, every F
black, the bass thicker. A state is a shape with its word in the legend; colour only repeats it. matplotlib
is only imported by who draws, so that the report can use the colours without it.
"""

from typing import TYPE_CHECKING

from analyzer import words
from analyzer.notes import harp_octave
from analyzer.speech import manner, say
from analyzer.survey import StringRow, Survey

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

COLOURS = {
    "card": "#fffdf9",
    "ink": "#22303a",
    "soft": "#5b6670",
    "line": "#e2dacb",
    "gut": "#c6b594",
    "red": "#b3261e",
    "blue": "#2a5da8",
    "good": "#1f6670",
    "bad": "#a34a00",
}
"""Name -> colour; the report's style sheet has the same names, for light and for dark."""

MARKERS = {
    "sound": "o",
    "dull": "s",
    "false": "D",
    "check by hand": "^",
    "cannot judge": "o",
    "uncertain": "v",
    "not heard": "x",
}
WIDE_IN, NARROW_IN = 11.4, 3.9
"""Width of a chart: for a page, and for a narrow one, where the letters stay as large."""
LETTERS_IN, CROSSES_IN, GAP_IN = 0.52, 0.32, 0.1
"""Room below a chart for the strings' letters, above it for the crosses, and between two."""
TONES = {"good": "good", "bad": "bad", "open": "ink"}
HARP_COLOURS = {"red": "red", "black": "ink", "blue": "blue", "plain": "gut"}
USUAL_COLOURS = {"C": "red", "F": "black"}
"""For layouts that give no colours: common practice, no source."""


def stacked(
    figure: "Figure", parts: tuple[Survey, ...], heights: tuple[float, ...], narrow: tuple[float, ...], *, aside: float
) -> "list[Axes]":
    """The figure's axes, one below another: for each part of the harp, one of each height, letters and legend below.

    `heights` and `narrow` (for more than one part) and `aside`, the room at the right, are in inches.
    """
    wide = len(parts) == 1
    across, left, right = (WIDE_IN, 0.74, aside) if wide else (NARROW_IN, 0.74, min(aside, 0.68))
    chosen = heights if wide else narrow
    legend_in = 0.3 if wide else 0.95
    whole = len(parts) * sum(chosen) + legend_in
    figure.set_size_inches(across, whole)
    axes, top = [], whole
    for _ in parts:
        for k, height in enumerate(chosen):
            last = k == len(chosen) - 1
            bottom = top - height + (LETTERS_IN if last else GAP_IN)
            inner = top - bottom - (CROSSES_IN if k == 0 else GAP_IN)
            axes.append(
                figure.add_axes((left / across, bottom / whole, (across - left - right) / across, inner / whole))
            )
            top -= height
    return axes


def octave(string: str) -> str:
    """The number of a string's octave, in the manner of the moment."""
    return harp_octave(string)[:-1] if manner().harp_octaves else string[1:]


def draw_strings(ax: "Axes", survey: Survey, *, labelled: bool = True) -> None:
    """The strings as upright lines in their colours, their letters below; those not heard are dotted."""
    rows, n = survey.strings, len(survey.strings)
    colours = harp_colours(survey)
    places = {
        string.string: k / max(len(survey.layout.strings) - 1, 1) for k, string in enumerate(survey.layout.strings)
    }
    for heard in (True, False):
        chosen = [x for x in range(n) if (rows[x].status != "not heard") == heard]
        if chosen:
            ax.vlines(
                chosen,
                0,
                1,
                transform=ax.get_xaxis_transform(),
                colors=[COLOURS[colours[x]] for x in chosen],
                linewidths=[1.7 - 1.1 * places.get(rows[x].string, 0.5) for x in chosen],
                linestyles="solid" if heard else (0, (1, 3)),
                zorder=1,
            )
    ax.set_xlim(-0.8, n - 0.2)
    first = next((x for x in range(n) if rows[x].string[0] == "C"), n)
    texts = [
        row.string[0] + (f"\n{octave(row.string)}" if row.string[0] == "C" or x == 0 < first else "")
        for x, row in enumerate(rows)
    ]
    ax.set_xticks(range(n), texts if labelled else [""] * n)
    for x, label in enumerate(ax.get_xticklabels()):
        if colours[x] != "gut":
            label.set_color(COLOURS[colours[x]])
            label.set_fontweight("bold")


def harp_colours(survey: Survey) -> list[str]:
    """A name of COLOURS for every string: the layout's, or the usual ones where it gives none."""
    given: dict[str, str] = {string.string: string.colour for string in survey.layout.strings}
    if all(colour == "plain" for colour in given.values()):
        given = {row.string: USUAL_COLOURS.get(row.string[0], "plain") for row in survey.strings}
    return [HARP_COLOURS[given.get(row.string, "plain")] for row in survey.strings]


def draw_marks(ax: "Axes", marks: list[tuple[int, float, float | None, StringRow]], *, faint: bool = False) -> None:
    """Place, height, half-width of its interval, and row of each string to be marked by its state; `faint`: of what is
    hardly known."""
    for state in words.STATES:
        chosen = [(x, y, u95) for x, y, u95, row in marks if words.state(row) == state]
        colour, face = _colours(state)
        bars = [(x, y - u95, y + u95) for x, y, u95 in chosen if u95 is not None]
        if bars:
            places, lows, highs = zip(*bars, strict=True)
            ax.vlines(places, lows, highs, colors=colour, linewidths=1.6, zorder=3)
        xs, ys = [x for x, _, _ in chosen], [y for _, y, _ in chosen]
        ax.plot(xs, ys, MARKERS[state], color=colour, markerfacecolor=face, alpha=0.35 if faint else 1.0, zorder=4)


def _colours(state: str) -> tuple[str, str]:
    """Edge and face of a state's marker."""
    tone = words.STATES[state].tone
    return COLOURS[TONES[tone]], COLOURS["card" if tone == "open" else TONES[tone]]


def write_beside(ax: "Axes", x: float, y: float, text: str) -> None:
    """A figure beside the mark that it belongs to."""
    ax.annotate(
        text,
        (x, y),
        xytext=(7, 0),
        textcoords="offset points",
        va="center",
        color=COLOURS["ink"],
        fontsize=9,
        bbox={"facecolor": COLOURS["card"], "edgecolor": "none", "pad": 1.5},
        zorder=5,
    )


def write_aside(ax: "Axes", y: float, text: str, colour: str) -> None:
    """A word at the right of the chart, at the height of what it names."""
    ax.annotate(
        text,
        (1.0, y),
        xycoords=ax.get_yaxis_transform(),
        xytext=(6, 0),
        textcoords="offset points",
        va="center",
        color=colour,
        fontsize=8.5,
    )


def draw_not_heard(ax: "Axes", survey: Survey) -> None:
    """A cross above each string that was not heard, where it would be fastened."""
    xs = [x for x, row in enumerate(survey.strings) if row.status == "not heard"]
    place = ax.get_xaxis_transform()
    ax.plot(xs, [1.03] * len(xs), MARKERS["not heard"], color=COLOURS["ink"], transform=place, clip_on=False)


def draw_legend(figure: "Figure", survey: Survey, more: "list[Line2D]") -> None:
    """Below the charts: the states that occur, and what else is handed in."""
    from matplotlib.lines import Line2D

    used = {words.state(row) for row in survey.strings}
    handles = []
    for state in (state for state in words.STATES if state in used):
        edge, face = _colours(state)
        word = say(words.STATES[state].word)
        handles.append(
            Line2D([], [], linestyle="", marker=MARKERS[state], color=edge, markerfacecolor=face, label=word)
        )
    handles += more
    wide = figure.get_figwidth() > NARROW_IN
    figure.legend(
        handles=handles,
        loc="lower center",
        ncols=len(handles) if wide else 2,
        bbox_to_anchor=(0.48 if wide else 0.5, 0.0),
    )
