"""One harp over time: surveys to readings, how it settles, what weather does to it, how often to tune it.

Conventions as in `settling`; a survey's humidity (relative, %) and temperature (°C) are what the person noted with it,
under `humidity` and `temperature` in what was said.

Nothing is said of settling where the whole harp was retuned, on a day that nobody named, between every two surveys:
what it fell by then is hidden in what it was raised by.

Weather: what all strings share at each survey is regressed on what was noted (ordinary least squares, interval by
Student's t), from `climate_surveys_n` surveys on. Cents per degree or per cent of humidity were found nowhere
published for harps, so nothing is assumed beforehand.
"""

import datetime
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer.lineup import day_of
from analyzer.notes import cents
from analyzer.settings import SettlingSettings
from analyzer.settling import Law, Settling, fit
from analyzer.survey import Survey
from analyzer.tunings import Readings, stated
from analyzer.words import listed

_DEFAULTS = SettlingSettings()
_LAWS: dict[Law, str] = {
    "exponential": "is coming to an end, nearer to an exponential law than to a logarithmic",
    "logarithmic": "goes on ever more slowly, nearer to a logarithmic law than to an exponential",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """What one noted figure does to the whole harp."""

    name: str
    """`humidity` or `temperature`."""
    values: tuple[float | None, ...]
    """At each survey, %, °C."""
    cents_per_unit: float | None
    """Per % or per °C; None with too few surveys, or where it hardly varied."""
    u95: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """How one harp went on."""

    first: int
    """Index of the survey that the days count from: the first after the harp was brought up."""
    first_date: str
    days: tuple[float, ...]
    """Of the surveys from the first on, since that one."""
    settling: Settling | None
    settled_date: str
    """ISO day; empty where none can be named."""
    slipping: tuple[str, ...]
    """Strings that keep falling."""
    tune_every_days: float | None
    """Until the next tuning; None where only common practice is known."""
    weather: tuple[Weather, ...]
    sentences: tuple[str, ...]
    """All of it in plain words."""


def course(
    surveys: Sequence[Survey], retuned: Sequence[datetime.date] = (), settings: SettlingSettings = _DEFAULTS
) -> Course | None:
    """The course of a harp over its surveys in order of time; None where there are too few or they are not dated."""
    if len(surveys) < settings.least_surveys_n or not all(s.date for s in surveys):
        return None
    first = _brought_up(surveys, settings)
    used = surveys[first:]
    days = [day_of(s) for s in used]
    weather_names = ("humidity", "temperature")
    withheld = Course(
        first=first,
        first_date=used[0].date,
        days=tuple(float((day - days[0]).days) for day in days),
        settling=None,
        settled_date="",
        slipping=(),
        tune_every_days=None,
        weather=tuple(_noted(name, used, None, settings) for name in weather_names),
        sentences=usual_practice(settings),
    )
    if len(used) < settings.least_surveys_n or days[0] == days[-1]:
        few = (
            f"Since the harp was brought up there are {len(used)} surveys; it takes"
            f" {settings.least_surveys_n} of different days to see how it settles."
        )
        return replace(withheld, sentences=(few, *withheld.sentences))
    data = readings(used, retuned)
    if np.count_nonzero(np.isfinite(data.cents).sum(axis=1) >= 2) < settings.least_strings_n:
        hardly = (
            "Hardly a string was heard for sure in two of these surveys, so how the harp settles cannot be told from"
            " them."
        )
        return replace(withheld, sentences=(hardly, *withheld.sentences))
    settling = fit(data, settings)
    if not _left_alone(settling, data):
        never_alone = (
            f"Since {days[0]} the harp seems to have been retuned between every two surveys, so how it settles by"
            " itself cannot be told from them. It takes two surveys of different days without any tuning in"
            " between, or the days of the tunings (--retuned)."
        )
        return replace(withheld, sentences=(never_alone, *withheld.sentences))
    settled_date = "" if settling.settled_day is None else _date(days[0], settling.settled_day, up=True).isoformat()
    weather = tuple(_noted(name, used, settling, settings) for name in weather_names)
    return Course(
        first=first,
        first_date=used[0].date,
        days=tuple(float((day - days[0]).days) for day in days),
        settling=settling,
        settled_date=settled_date,
        slipping=tuple(s.string for s in settling.strings if s.slipping),
        tune_every_days=settling.tune_every_days,
        weather=weather,
        sentences=tuple(_sentences(settling, days, retuned, weather, settings)),
    )


def _left_alone(settling: Settling, data: Readings) -> bool:
    """Whether between some two surveys the harp was left to itself, at least from a stated day of tuning on."""
    since_tuned = {tuning.survey for tuning in stated(data) if tuning.day < data.days[tuning.survey]}
    return any(
        m in since_tuned or m not in settling.retuned_surveys
        for m in range(1, len(data.days))
        if data.days[m] > data.days[m - 1]
    )


def _creeps(settling: Settling) -> bool:
    """Whether the drift of half of the strings can be shown: of what cannot, no law can be told."""
    drifts = [(s.drift_cents, s.drift_u95_cents) for s in settling.strings]
    known = [abs(drift) > u95 for drift, u95 in drifts if drift is not None and u95 is not None]
    return 2 * sum(known) >= max(len(known), 1)


def readings(surveys: Sequence[Survey], retuned: Sequence[datetime.date] = ()) -> Readings:
    """The surveys' pitches against the notes of the last one; strings that are `uncertain` are left out."""
    days = [day_of(s) for s in surveys]
    targets = [row.target_hz for row in surveys[-1].strings]
    sure = [[row if row.status == "heard" else None for row in s.strings] for s in surveys]
    off = [
        [cents(row.pitch_hz, hz) if row and row.pitch_hz else np.nan for row, hz in zip(rows, targets, strict=True)]
        for rows in sure
    ]
    u95 = [[row.cents_u95 if row and row.cents_u95 else 1.0 for row in rows] for rows in sure]
    return Readings(
        strings=tuple(row.string for row in surveys[-1].strings),
        days=np.array([(day - days[0]).days for day in days], dtype=float),
        cents=np.array(off, dtype=float).T,
        u95_cents=np.array(u95, dtype=float).T,
        common_u95_cents=np.array([s.clock_u95_cents for s in surveys]),
        retuned_days=tuple(float((day - days[0]).days) for day in retuned),
        materials=tuple(string.material for string in surveys[-1].layout.strings),
    )


def usual_practice(settings: SettlingSettings = _DEFAULTS) -> tuple[str, ...]:
    """How often to tune while there are no data."""
    days = listed([str(d) for d in settings.usual_days], len(settings.usual_days))
    return (
        f"Until its own surveys say more: tune {days} days after strings were fitted or raised, then weekly at the"
        " least; it usually holds after about a fortnight (common practice, no source).",
    )


def _brought_up(surveys: Sequence[Survey], settings: SettlingSettings) -> int:
    """The survey after the last great rise of the whole harp, from which creep starts anew; else the first."""
    first = 0
    for i in range(1, len(surveys)):
        rises = [
            cents(now.pitch_hz, old.pitch_hz)
            for old, now in zip(surveys[i - 1].strings, surveys[i].strings, strict=True)
            if old.pitch_hz and now.pitch_hz
        ]
        if rises and statistics.median(rises) > settings.brought_up_cents:
            first = i
    return first


def _date(first: datetime.date, days: float, *, up: bool) -> datetime.date:
    return first + datetime.timedelta(days=int(np.ceil(days) if up else np.floor(days)))


def _noted(name: str, surveys: Sequence[Survey], settling: Settling | None, settings: SettlingSettings) -> Weather:
    values = tuple(_number(s.said.get(name, "")) for s in surveys)
    known = [i for i, value in enumerate(values) if value is not None]
    slope, u95 = None, None
    if settling is not None and len(known) >= settings.climate_surveys_n:
        from scipy.stats import linregress, t

        x = np.array([values[i] for i in known], dtype=float)
        if np.ptp(x) > 0:
            line = linregress(x, np.array([settling.common_cents[i] for i in known]))
            slope, u95 = float(line.slope), float(line.stderr * t.ppf(0.975, len(known) - 2))
    return Weather(name=name, values=values, cents_per_unit=slope, u95=u95)


def _number(text: str) -> float | None:
    try:
        return float(text.strip().rstrip("%°CcF ").replace(",", "."))
    except ValueError:
        return None


def _sentences(
    settling: Settling,
    days: Sequence[datetime.date],
    retuned: Sequence[datetime.date],
    weather: Sequence[Weather],
    settings: SettlingSettings,
) -> list[str]:
    week, tolerance = settings.stay_days, settings.tolerance_cents
    said = []
    first, last = days[0], days[-1]
    low = _date(
        first, settings.horizon_days if settling.settled_day_low is None else settling.settled_day_low, up=False
    )
    if settling.settled_day is None:
        said.append(f"It is not to be foreseen when every string will stay within {tolerance:g} cents for a week.")
    else:
        day = _date(first, settling.settled_day, up=True)
        past = "has most likely settled since" if day <= last else "will most likely have settled by"
        high = settling.settled_day_high
        to = f"{_date(first, high, up=True)}" if high is not None else "much later"
        said.append(
            f"The harp {past} {day} (90 %: {low} to {to}): tuned then, every string stays within {tolerance:g} cents"
            f" for {week:g} days, weather apart"
            f"{', those named below excepted' if any(s.slipping for s in settling.strings) else ''}."
        )
    if low > last:
        said.append(f"It had not settled at the last survey; not before {low} (95 %). One more survey then says more.")
    for m in settling.retuned_surveys:
        if not any(days[m - 1] <= day <= days[m] for day in retuned):
            said.append(
                f"Between {days[m - 1]} and {days[m]} the whole harp seems to have been retuned, though that was not"
                " stated; these figures reckon with it."
            )
    for string in (s for s in settling.strings if s.slipping):
        said.append(
            f"{string.string} keeps falling by about {abs(string.slip_cents_per_day or 0.0):.1f} cents a day while the"
            " others settle: a slipping pin, a slipping knot or a failing string; look at it."
        )
    if settling.tune_every_days is None:
        said.append(
            f"Creep alone would keep it in tune for more than {settings.horizon_days:.0f} days; weather will not: tune"
            " it weekly at the least (common practice, no source)."
        )
    elif settling.tune_every_days < 1.0:
        said.append(
            f"From {days[-1]} on, 95 of 100 strings stay within {tolerance:g} cents for less than a day by its own"
            " drift: tune it daily, and then as far apart as later surveys allow."
        )
    else:
        every = settling.tune_every_days
        said.append(
            f"From {days[-1]} on, 95 of 100 strings stay within {tolerance:g} cents for about {every:.0f}"
            f" day{'' if round(every) == 1 else 's'} by its own drift: tune at that interval, and then as far apart as"
            " later surveys allow."
        )
    if _creeps(settling):
        said.append(f"Its creep {_LAWS[settling.law]} ({100 * settling.law_probability:.0f} % likely).")
    for w in weather:
        unit = "% of humidity" if w.name == "humidity" else "degree"
        if w.cents_per_unit is not None and w.u95 is not None:
            shown = abs(w.cents_per_unit) > w.u95
            said.append(
                f"Per {unit} all strings move by {w.cents_per_unit:+.2f} ± {w.u95:.2f} cents"
                f"{'' if shown else ', which may be nothing'}."
            )
    return said
