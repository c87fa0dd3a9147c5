"""The sentences of plan, comparison, collection and reply as patterns, to be said again in another language
(`restating`, whose own patterns are those of a survey). Their stages write them, in English, into their files.
"""

from analyzer.speech import mark

PATTERNS = (
    # amounts and lists
    mark("1 cent"),
    mark("{n} cents"),
    mark("1 semitone"),
    mark("1 string"),
    mark("{n} strings"),
    mark("no strings"),
    mark("1 pass"),
    mark("{n} passes"),
    mark("1 day"),
    mark("{n} days"),
    mark("up"),
    mark("down"),
    mark("measured"),
    mark("not given"),
    # the load, and a plan foreseen (`load`, `plan`)
    mark("whole harp"),
    mark("octave {n} ({low} to {high})"),
    mark(
        "The harp carries about {share} of the load it has at pitch ({now} of {full} kN, the sum of the"
        " string tensions; lengths and gauges: {basis})."
    ),
    mark("The harp carries about {share} of the load it has at pitch."),
    mark("It is in tune: there is nothing to raise."),
    mark(
        "To bring it up would take {passes} over at least {days}, all strings together, and a last touch as"
        " they fall again; an old or weak harp takes about twice as many."
    ),
    mark("From pass {first} on only {names} would still be raised; the rest of the harp is up by then."),
    mark("No plan of up to {n} passes brings this harp to pitch within the limits; ask a qualified harp technician."),
    mark("harp-survey plan makes that plan, once this is answered: {open}."),
    # where a layout's figures come from (`layouts/`)
    mark(
        "Range from memory. Lengths and gauges are derived, for no table is published: a scaling curve for"
        " length, tensions such that {n} strings total {kn} kN."
    ),
    mark(
        "Range as published. Lengths and gauges are derived, for no table is published: a scaling curve for"
        " length, tensions such that {n} strings total {kn} kN."
    ),
    # what has to be answered before a plan (`questions`)
    mark("levers not stated"),
    mark("pedals not stated"),
    mark("open tuning not stated"),
    mark("the recording fits another reading too"),
    mark("not inspected: do not raise"),
    mark("inspected: {found}: do not raise"),
    mark("not confirmed by hand: {names}"),
    mark("say what the levers were set to at the recording: --levers off, or the strings whose levers were on."),
    mark("What were the levers set to at the recording (off, on, or the strings whose levers were on)?"),
    mark("say what the pedals were set to at the recording: --pedals flat, natural, sharp or all seven."),
    mark("What were the pedals set to at the recording (flat, natural, sharp, or all seven: D C Bb Eb F G A)?"),
    mark("say what the open strings are tuned to, such as --tuning {key}."),
    mark("What are the open strings to be tuned to (a key: C, E-flat, F, …)?"),
    mark(
        "Look at the harp, then say {option} here if the survey has it right ({setting}); if not, run harp-survey"
        " analyze again with what it is."
    ),
    mark("The survey assumes {setting}."),
    mark("What were the {what} in truth?"),
    mark("levers"),
    mark("pedals"),
    mark("tuning"),
    mark("look at {list}; then say --inspected good, or in words what you found."),
    mark("Look at the harp: {list}."),
    mark("What did you find ('good', or in words)?"),
    mark(
        "stop and ask a qualified harp technician; once one has looked at it and agreed, say --advised-by NAME (or"
        " --inspected good, if nothing was found after all)."
    ),
    mark("Which qualified harp technician has looked at that and agreed that the harp be raised (name, or empty)?"),
    mark(
        "look and pluck ({why}); then say --confirm {names} for those that are what the survey says, --replace for"
        " those to be taken off; or record them again."
    ),
    mark("Look at these strings and pluck them: {why}."),
    mark("Which are what the survey says (names, all, or none)?"),
    mark("{string}: it may be another string"),
    mark("{string}: its pitch could not be measured"),
    mark("{string}: it is not surely recognised"),
    mark("{string}: {n} cents low: very slack, the neighbour, or the wrong string fitted"),
    mark(
        "{what} is not raised on a computed plan (no load of one is published); ask a qualified harp technician first,"
        " then say --advised-by NAME."
    ),
    mark("This is {what}."),
    mark("Which qualified harp technician has agreed that it be raised (name, or empty)?"),
    mark("a historical harp"),
    mark("a wire-strung harp"),
    mark("a wire-strung harp: no plan without advice"),
    mark("a historical harp: no plan without advice"),
    mark("the soundboard, inside and out: cracked, lifting from its frame, or pulled up more than it was"),
    mark("the neck: cracked, twisted, or leaning out of line with the strings"),
    mark("the joints of neck, pillar and body: any gap that a card goes into"),
    mark("the base and the pillar: cracked, or coming away"),
    mark("the tuning pins: loose, bent, or turning back by themselves"),
    mark("the bridge pins and the holes in the soundboard: leaning, worn, or with splits running from them"),
    # the rows of a plan (`worklist`)
    mark("Too high: let it down before anything is raised."),
    mark("New since {day}: it goes on stretching."),
    mark("An octave low: check its octave against the same note above and below before you turn."),
    mark("Wire: small turns."),
    mark("Close to breaking at pitch: slowly, and stop if it ticks or frays."),
    mark("Take the old string off, fit a new one, {level}."),
    mark("New since {day}: {level}."),
    mark("Where it stands is not known: {level}."),
    mark("Not heard: look whether it is there. If not, fit a new one; either way {level}."),
    mark("Fit a new string; {level}."),
    mark("bring it level with its neighbours in small pulls, some minutes apart"),
    mark("Again: it has fallen as others came up."),
    mark("Leave it then as it falls: it measures how the harp gives way."),
    mark("Then stop, let it rest, look at soundboard and joints, record again and plan from that."),
    mark("Not turned yet: set right at the end if it has fallen."),
    mark("Then let it rest."),
    mark("Then let it rest and record it once more."),
    mark(
        "Then go through this table again from the top, up to three times: what stands more than a cent below"
        " its figure under “At the end” is brought back to it."
    ),
    mark(
        "Then rest for an hour, and go through the whole harp again from the longest string, up to three"
        " times: bring to its note what stands more than half a cent below it."
    ),
    # visits and purchases (`visits`, `purchases`)
    mark("Harp: pass {n}"),
    mark("Work through this pass of the plan."),
    mark("Harp: look, record, plan again"),
    mark("Look at soundboard and joints."),
    mark("Record all strings, survey, and plan from that."),
    mark("About {n} more passes follow; the new plan says which."),
    mark("It may want a last touch."),
    mark("Harp: tune again"),
    mark("Tune all strings to their notes, none above."),
    mark("New strings ({names}) will have fallen most."),
    mark("{short}, top-octave {letter}"),
    mark("{short}, first-octave {letter}"),
    mark("{short}, second-octave {letter}"),
    mark("{short}, third-octave {letter}"),
    mark("{short}, fourth-octave {letter}"),
    mark("{short}, fifth-octave {letter}"),
    mark("{short}, sixth-octave {letter}"),
    mark("{short}, seventh-octave {letter}"),
    mark("{short}, eighth-octave {letter}"),
    mark("A hole in every piece that needs it, and its load is missing from the harp's."),
    mark("To be taken off, as said after looking."),
    mark("Kept, it cannot be put in tune: its octaves and unisons beat however it is set."),
    mark("Kept, it costs brightness and length of sound, nothing else."),
    mark(
        "Kept, it costs length of sound, nothing else: it rings {s} s where its neighbours lead one to expect"
        " {expected} s."
    ),
    mark("It is not on your price list."),
    mark("Order the bass wires {low} to {high} as one set; this price is the set's."),
    mark("In the set of bass wires, with {string}."),
    mark("A new string may break while it is brought up."),
    # for whoever pays (`paying`, `outlook`)
    mark("{names} stand far above the note and may break."),
    mark("{name} stands far above the note and may break."),
    mark("It stands slack; have it looked over before it is brought up or played."),
    mark("No string could be measured."),
    mark("The recording can be read in more than one way; see the survey."),
    mark("It needs tuning."),
    mark("{name} was not heard."),
    mark("{names} were not heard."),
    mark("{name} sounds dull or false."),
    mark("{names} sound dull or false."),
    mark(
        "{each} minutes a string each time it is tuned, {new} minutes a new string, and {visit} minutes more a visit;"
        " travel is not in it (our judgement; a technician's own estimate goes before it)."
    ),
    mark(
        "Visits are the passes that the plan takes to bring the harp to pitch within its limits, one more"
        " where strings are new."
    ),
    mark(
        "Strings counted: those not heard, and those that sound dull or false. Whether one is really missing,"
        " and what else the harp needs, has to be looked at."
    ),
    mark("The recording can be read in another way too."),
    mark("Nobody said what the harp is tuned to."),
    mark("Only {n} of {of} strings were measured for sure."),
    mark("Seen on the harp: {found}."),
    # before and after (`comparison`, `changes`, `lineup`)
    mark("Compared here: the last two surveys, of {day} and {later}."),
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
    mark("Its partials moved by another amount than its measured pitch; the interval or figure allows for it."),
    mark("Rings {ratio} times as long as before, beside the others."),
    mark("Rings only {percent} % as long as before, beside the others."),
    mark("Brighter than before, beside the others."),
    mark("Less bright than before, beside the others."),
    mark("Dull now and not before: ordinary wear, unless something happened to it."),
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
    mark("Creep alone would keep it in tune for more than {days} days; weather will not."),
    mark(
        "From {day} on, 95 of 100 strings stay within {cents} cents for about {days} by its own drift: tune"
        " at that interval, and then as far apart as later surveys allow."
    ),
    mark("Its creep is coming to an end, nearer to an exponential law than to a logarithmic ({percent} % likely)."),
    mark(
        "Its creep goes on ever more slowly, nearer to a logarithmic law than to an exponential ({percent} % likely)."
    ),
    mark("Per % of humidity all strings move by {cents} ± {u95} cents, which may be nothing."),
    mark("Per % of humidity all strings move by {cents} ± {u95} cents."),
    mark("Per degree all strings move by {cents} ± {u95} cents, which may be nothing."),
    mark("Per degree all strings move by {cents} ± {u95} cents."),
    # the reply to a beginner (`reply`)
    mark("Thank you for the recording."),
    mark("{n} of {of} strings were heard, and none of them are close to the note."),
    mark("{n} of {of} strings were heard, and {good} of them is close to the note."),
    mark("{n} of {of} strings were heard, and {good} of them are close to the note."),
    mark("Turn no pin yet: this harp is slack, and a harp technician should look it over first."),
    mark("Bringing a slack harp up too fast can break strings and harm the wood."),
    mark(
        "Pins are turned only by someone who was shown how on this harp: your teacher, a harp technician, or"
        " you with one of them beside you."
    ),
    mark("Never tune a string higher than its note."),
    mark("Moving levers is safe for you to do."),
    mark("Put all levers off (open, so that none presses on its string), then record the whole harp again."),
    mark("Put all seven pedals in their top place, then record the whole harp again."),
    mark("Ask your teacher which key the harp is tuned to, then record it again and say so."),
    mark(
        "From the sound alone nobody can tell a harp that is out of tune from one whose strings are set to other notes."
    ),
    mark("Until that is settled, do not tune by anything on this page."),
    mark("Record the harp again."),
    mark("It spoils: {what}"),
    mark("Keep this in mind for the next recording."),
    mark("Most strings were too quiet: hold the phone nearer, pluck firmly, and record the whole harp again."),
    mark("{strings} too quiet: hold the phone nearer, pluck firmly, and record that one again."),
    mark("{strings} too quiet: hold the phone nearer, pluck firmly, and record those again."),
    mark("String {places} (counted from the top) was"),
    mark("Strings {places} (counted from the top) were"),
    mark("What is hardly louder than the room cannot be measured well."),
    mark("These may have been plucked too softly: something faint was heard in their places."),
    mark("If they are on the harp, hold the phone nearer, pluck them firmly, and record them again."),
    mark("Pluck these again, one by one from the top, and say the name of each before you pluck it."),
    mark("It is not sure which of the sounds belongs to which string."),
    mark("Look whether these strings are on the harp."),
    mark("Record those that are; tell your teacher which are not."),
    mark("They were not heard: missing, broken, or passed over."),
    mark("Do not tune these by a display of note letters alone: show them to your teacher first."),
    mark("They sound far too low, perhaps a whole octave, where a display shows the same letter."),
    mark("Turn no pin yet."),
    mark("Ask your teacher to find a harp technician who looks the harp over first."),
    mark("Half of the strings are more than {amount} off."),
    mark("The plan made for this harp takes {n} sittings with rests between."),
    mark("With your teacher, tune these, a little at a time, and listen to the tone of each first."),
    mark("Then the {n} others."),
    mark("They are the furthest off."),
    mark("Follow each string by eye up to its own pin before it is turned."),
    mark("At your next lesson, ask your teacher to listen to these."),
    mark("Buy nothing yet."),
    mark("They sound unlike the strings beside them."),
    mark("{amount} too low"),
    mark("{amount} too high"),
    mark("Cent"),
    mark("A hundredth of the step from one piano key to the next."),
    mark("Most people notice about ten."),
    mark("Hz (hertz)"),
    mark("Swings of the string in a second."),
    mark("More is higher."),
    mark("Pin"),
    mark("The metal peg in the neck that a string is wound on, and that tunes it."),
    mark("Lever"),
    mark("The small handle near the top of a string that makes it a half step higher."),
    mark("the top string, the shortest"),
    mark("the string just below the {rank} {colour} string from the top"),
    mark("the string just above the {rank} {colour} string from the top"),
    mark("the {far} string below the {rank} {colour} string from the top"),
    mark("the {far} string above the {rank} {colour} string from the top"),
    mark("the string just below the top string, the shortest"),
    mark("the {far} string below the top string, the shortest"),
    mark("the {rank} {colour} string from the top"),
    mark("the {rank} string from the top"),
    mark("first"),
    mark("second"),
    mark("third"),
    mark("fourth"),
    mark("fifth"),
    mark("sixth"),
    mark("seventh"),
    mark("eighth"),
    mark("ninth"),
    mark("tenth"),
    mark("{n}st"),
    mark("{n}nd"),
    mark("{n}rd"),
    mark("{n}th"),
    mark("red"),
    mark("black"),
    mark("blue"),
    mark("{n} to {m}"),
    # a harp in a collection (`triage`)
    mark("{names} is sharp by up to {amount}: let down first."),
    mark("{names} are sharp by up to {amount}: let down first."),
    mark("{names} is sharp by up to {amount}."),
    mark("{names} are sharp by up to {amount}."),
    mark("{strings} not heard ({names}); {typical}."),
    mark("{n} false and {dull} dull ({names}); {typical}."),
    mark("{strings} false ({names}); {typical}."),
    mark("{strings} dull ({names}); {typical}."),
    mark("half of the strings are more than {amount} off, {passes}"),
    mark("half of the strings are more than {amount} off"),
    mark("Half of the strings are more than {amount} off, {passes}."),
    mark("In tune."),
    mark("Settle first what else the recording may say."),
    mark("Another batch is at work on it; run this command again."),
    # why a recording gave nothing (`decoding`, `recording`, `pipeline`, `worker`, `workers`, `collection`)
    mark("Nothing but silence is in it; check the microphone and record again."),
    mark("No sound could be read from it; check the microphone and record again."),
    mark("The file is empty; send or copy the recording again."),
    mark(
        "Not a recording this program can read, or too damaged; send the original file again, as WAV, FLAC, MP3 or m4a."
    ),
    mark("A file without sound; record again with the microphone on."),
    mark("No sound in it can be decoded; send the recording again."),
    mark("No permission to read it; change the file's permissions or copy it."),
    mark("Not an ordinary file; copy the recording to disk and give that."),
    mark("Longer than {n} hours; cut out the part with the harp and give that."),
    mark(
        "Only {n} of {of} strings could be made out ({sounds} sounds in all); record again with every string"
        " plucked once, from the lowest to the highest, each left to ring, without talking in between. If that was"
        " done, look whether --layout is this harp's. Of a few strings recorded once more, say the --first and the"
        " --last."
    ),
    # other errors that people meet, and what the command is doing
    mark("No such file; check the name."),
    mark("No such file; the nearest name in that folder is {name}."),
    mark("This is a folder; give the recording inside it."),
    mark("Cannot be read ({why}); give the folder that analyze wrote."),
    mark("No such file or directory"),
    mark("{name} is not on this harp: {layout} has {low} to {high}."),
    mark("{name} is not on this harp: {layout} has {low} to {high}. Did you mean {near}?"),
    mark(
        "{name} names no string; write C4, 5C, 'third red from the top' or 'string 12'; {layout} has {low} to {high}."
    ),
    mark(
        "{name} names no string; write C4, 5C, 'third red from the top' or 'string 12'; {layout} has {low} to {high}."
        " Did you mean {near}?"
    ),
    mark("Unknown tuning {key}; name a key, as in C, E-flat, F-sharp or C minor."),
    mark("Unknown tuning {key}; name a key, as in C, E-flat, F-sharp or C minor. Did you mean {near}?"),
    mark("--budget needs a price list to be counted against: give --prices FILE.csv too."),
    mark("starting"),
    mark("synthesising an invented harp"),
    mark("listening to {file}"),
    mark("judging the strings"),
    mark("It cannot be opened; check that it is there and may be read."),
    mark("It takes more memory than there is; cut out the part with the harp."),
    mark("It took longer than {n} s (--limit-seconds); cut out the harp's part."),
    mark("It took more than {n} MB of memory (--limit-mb); cut out the harp's part."),
    mark("The program was ended while it read it; please report this with the recording."),
    mark("The program failed on it ({what}); please report this."),
    mark("A link to a place outside the folder, which is not followed; copy the recording into the folder."),
)
