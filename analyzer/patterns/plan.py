"""What stands in a plan and before it: loads, questions, rows of the work order, visits, purchases, costs."""

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
    mark("up or down"),
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
    mark("the recording fits another harp"),
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
    mark(
        "the survey was measured against {setting}, and {given} says otherwise ({strings}); run harp-survey analyze"
        " again with {what}, then plan from that."
    ),
    mark("{n} strings, {string} among them"),
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
    mark("--confirm all says too that {string} is not on the harp."),
    mark("--confirm all says too that {strings} are not on the harp."),
    mark("Look at these strings and pluck them: {why}."),
    mark("Which are what the survey says (names, all, or none)?"),
    mark("{string}: it may be another string"),
    mark("{string}: not heard, or its sound was taken for {taken} ({chance})"),
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
    mark("Let down above: set right at the end if it has fallen."),
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
    mark("About 1 more pass follows; the new plan says which."),
    mark("About {n} more passes follow; the new plan says which."),
    mark("It may want a last touch."),
    mark("Harp: tune again"),
    mark("Harp: tune again if it is at pitch"),
    mark(
        "Only if the last plan says that all strings are at pitch; else turn no pin but by the next pass of that plan."
    ),
    mark("Tune all strings to their notes, none above: only someone who was shown how on this harp."),
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
    mark("It waits until the budget reaches all strings that are to be put on."),
    # for whoever pays (`paying`, `outlook`)
    mark("{names} stand far above the note and may break."),
    mark("{name} stands far above the note and may break."),
    mark("It stands slack; have it looked over before it is brought up or played."),
    mark("It stands slack: to be brought up, in passes over days, before it is played."),
    mark("No string could be measured."),
    mark("The recording can be read in more than one way; see the survey."),
    mark("It needs tuning."),
    mark("{name} is more than half a semitone off."),
    mark("{names} are more than half a semitone off."),
    mark("{name} is missing, as was said."),
    mark("{names} are missing, as was said."),
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
    mark("{n} of them is only for the furthest strings: look first whether those are the right ones for their places."),
    mark(
        "{n} of them are only for the furthest strings: look first whether those are the right ones for their places."
    ),
    mark(
        "Strings counted: those not heard, and those that sound dull or false. Whether one is really missing,"
        " and what else the harp needs, has to be looked at."
    ),
    mark("The recording can be read in another way too."),
    mark("Nobody said what the harp is tuned to."),
    mark("Only {n} of {of} strings were measured for sure."),
    mark("Seen on the harp: {found}."),
)
