"""What is said of one harp over time: before and after, what levers raise, how it settles."""

from analyzer.speech import mark

PATTERNS = (
    # before and after (`comparison`, `changes`, `lineup`)
    mark("Compared here: the last two surveys, of {day} and {later}."),
    mark(
        "Made from the same recording ({name}), so that they can show no change: compare the surveys of two recordings."
    ),
    mark("Of {strings} heard in both, the pitch of all changed, typically {way} by {amount}."),
    mark(
        "Of {strings} heard in both, the pitch of {n} changed, typically {way} by {amount}; of {same} no"
        " change can be shown."
    ),
    mark("Of {strings} heard in both, no change of pitch can be shown."),
    mark("No string was heard for sure in both, so nothing can be compared."),
    mark("Better now: {names}."),
    mark("Worse now: {names}."),
    mark("Heard before and not now: {names}; cause not determined."),
    mark("Cannot be compared: {names}."),
    mark("New strings, as stated: {names}."),
    mark("Heard now and not before, so perhaps new, or only skipped before: {names}."),
    mark("Sounding like other strings than before, perhaps replaced: {names}."),
    mark("Raised too much: {names}."),
    mark("Raised too little: {names}."),
    mark("Not raised: {names}."),
    mark("Raised as they should be: {names}."),
    mark("Sounding worse when engaged: {names}."),
    mark("Not to be judged from these recordings: {names}."),
    mark("No lever or pedal was moved between the two surveys."),
    mark("The surveys were put in the order of their dates."),
    mark("Some surveys have no date; those keep the place they were given in."),
    mark("Not heard before and heard now: perhaps a new string, or it was only skipped before."),
    mark("Said to be new: its condition is not compared with the old string's."),
    mark("Heard before and not heard now: broken, taken off or skipped; cause not determined."),
    mark("Which pluck was this string's is not sure, so no change is claimed."),
    mark("Sounds like another string than before: perhaps replaced or cleaned."),
    mark("Moved by {cents} ± {u95} cents: much more than a retuning."),
    mark("How long it rings is not compared at so different a pitch."),
    mark("Now far above its note: to be let down."),
    mark("Its partials moved by another amount than its measured pitch; the interval or figure allows for it."),
    mark("Rings {ratio} times as long as before, beside the others."),
    mark("Rings only {percent} % as long as before, beside the others."),
    mark("Brighter than before, beside the others."),
    mark("Less bright than before, beside the others."),
    mark("Dull now and not before: ordinary wear, unless something happened to it."),
    mark("Judged dull now and not before: that it became duller cannot be shown."),
    mark("Judged dull before and not now: that it became less dull cannot be shown."),
    mark(
        "Decay times were measured in both surveys on {strings} strings only; it takes {least} to tell the"
        " strings from the phone and the room, so they are not compared."
    ),
    mark("The layouts differ in stringing ({one}, {other}): loads compare only as shares."),
    mark(
        "The references differ (A4 = {one} and {other} Hz): each survey's cents are against its own, the"
        " change is of the pitch itself."
    ),
    mark(
        "The harp was to be tuned to {one}, then to {other}: each survey's cents are against its own, the"
        " change is of the pitch itself."
    ),
    mark("The titles differ ({one}, {other}): is it the same harp?"),
    mark("not heard any more"),
    mark("dull now"),
    mark("cannot be compared"),
    mark("rings only {percent} % as long"),
    mark("false now"),
    mark("replaced meanwhile"),
    mark("{n} ± {u95} cents lower"),
    mark("{n} ± {u95} cents higher"),
    mark("ordinary wear"),
    mark("settling and weather"),
    mark("cause not determined"),
    # what levers and pedals raise (`regulation`)
    mark(
        "Not judged: open, half of the strings are more than {cents} cents off; tune the harp and let it"
        " settle before its levers or discs are regulated."
    ),
    mark("Not judged: nobody said that the harp has settled; once it holds its tuning for a week, say --settled."),
    mark("Not heard in both recordings."),
    mark("Which pluck was this string's is not sure."),
    mark("The interval is too wide to say."),
    mark("Engaged it sounds false, dull or much shorter than open: look whether it buzzes or is pinched."),
    # how a harp settles (`timeline`)
    mark(
        "Since the harp was brought up there are {n} surveys; it takes {least} of different days to see how it settles."
    ),
    mark(
        "Until its own surveys say more: tune {days} days after strings were fitted or raised, then weekly at"
        " the least; it usually holds after about a fortnight (common practice, no source)."
    ),
    mark(
        "Hardly a string was heard for sure in two of these surveys, so how the harp settles cannot be told from them."
    ),
    mark(
        "Since {day} the harp seems to have been retuned between every two surveys, so how it settles by itself cannot"
        " be told from them. It takes two surveys of different days without any tuning in between, or the days of the"
        " tunings (--retuned)."
    ),
    mark("It is not to be foreseen when every string will stay within {cents} cents for a week."),
    mark(
        "The harp has most likely settled since {day} (90 %: {low} to {high}): tuned then, every string stays within"
        " {cents} cents for {days} days, weather apart, those named below excepted."
    ),
    mark(
        "The harp has most likely settled since {day} (90 %: {low} to {high}): tuned then, every string stays within"
        " {cents} cents for {days} days, weather apart."
    ),
    mark(
        "The harp will most likely have settled by {day} (90 %: {low} to {high}): tuned then, every string"
        " stays within {cents} cents for {days} days, weather apart, those named below excepted."
    ),
    mark(
        "The harp will most likely have settled by {day} (90 %: {low} to {high}): tuned then, every string"
        " stays within {cents} cents for {days} days, weather apart."
    ),
    mark("It had not settled at the last survey; not before {day} (95 %). One more survey then says more."),
    mark(
        "Between {day} and {later} the whole harp seems to have been retuned, though that was not stated; these"
        " figures reckon with it."
    ),
    mark("much later"),
    mark(
        "{string} keeps falling by about {cents} cents a day while the others settle: a slipping pin, a"
        " slipping knot or a failing string; look at it."
    ),
    mark(
        "Creep alone would keep it in tune for more than {days} days; weather will not: tune it weekly at the least"
        " (common practice, no source)."
    ),
    mark(
        "From {day} on, 95 of 100 strings stay within {cents} cents for about {days} by its own drift: tune"
        " at that interval, and then as far apart as later surveys allow."
    ),
    mark(
        "From {day} on, 95 of 100 strings stay within {cents} cents for less than a day by its own drift: tune it"
        " daily, and then as far apart as later surveys allow."
    ),
    mark("Its creep is coming to an end, nearer to an exponential law than to a logarithmic ({percent} % likely)."),
    mark(
        "Its creep goes on ever more slowly, nearer to a logarithmic law than to an exponential ({percent} % likely)."
    ),
    mark("Per % of humidity all strings move by {cents} ± {u95} cents, which may be nothing."),
    mark("Per % of humidity all strings move by {cents} ± {u95} cents."),
    mark("Per degree all strings move by {cents} ± {u95} cents, which may be nothing."),
    mark("Per degree all strings move by {cents} ± {u95} cents."),
)
