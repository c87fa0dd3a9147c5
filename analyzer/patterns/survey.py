"""What stands in a survey: tunings, remarks on strings, findings about recordings, doubts about the whole harp."""

from analyzer.speech import mark

PATTERNS = (
    # layouts and tunings
    mark("{what} (range unconfirmed, from memory)"),
    mark("{n}-string lever harp, {low} to {high}, light stringing"),
    mark("{n}-string lever harp, {low} to {high}, heavy stringing"),
    mark("{n}-string lever harp, {low} to {high}"),
    mark("{n}-string pedal harp, {low} to {high}"),
    mark("{n}-string lap harp, {low} to {high}"),
    mark("generic estimate"),
    mark("{how}, A4 = {a4} Hz"),
    mark("{how}, own targets for {strings}"),
    mark("{how}; {strings} (moved by no pedal) taken as {notes}"),
    mark("levers off, {key}"),
    mark("levers on, open strings in {key}"),
    mark("levers on for {strings}, all others off, open strings in {key}"),
    mark("pedals flat, {key}"),
    mark("pedals natural, {key}"),
    mark("pedals sharp, {key}"),
    mark("pedals set for {key}"),
    mark("{tonic}-flat major"),
    mark("{tonic}-flat minor"),
    mark("{tonic}-sharp major"),
    mark("{tonic}-sharp minor"),
    mark("{tonic} major"),
    mark("{tonic} minor"),
    # plucks that do not count
    mark("not a string"),
    mark("too short"),
    mark("slip"),
    mark("repeated"),
    # strings
    mark("Said to be missing."),
    mark("It was not to be in the recording: nothing is said of it."),
    mark("No pluck belongs to it: missing, broken or skipped."),
    mark("No pluck belongs to it: missing, broken or skipped, or its sound was taken for {string} ({chance})."),
    mark("As {string} it stands at {cents} cents."),
    mark(
        "Something faint begins at {at} s of {file}, about where its pluck would be: if that was this string, record it"
        " again louder."
    ),
    mark("No pluck belongs to it, and there was a tap in its place: missing."),
    mark("This pluck may also be {others}; the figures are for {string} ({chance})."),
    mark("Too faint or too short to measure its pitch."),
    mark("Its first partial could not be measured; the pitch is inferred from the higher ones."),
    mark("{n} semitones low: slack, an octave low, or the wrong string fitted; check by hand before turning."),
    mark("Its octave is not certain ({chance} for another one)."),
    mark("About a semitone above its neighbours: is its lever engaged, or a disc that does not release?"),
    # as earlier versions worded it, whose surveys are read for ever
    mark("Dies away {times} times ({low} to {high}) as fast as its neighbours lead one to expect: dull ({chance})."),
    mark(
        "Its partials {numbers} and {last} beat {slow} to {fast} times a second, each two tones {cents} cents apart"
        " where {usual} are usual here: a false string ({chance})."
    ),
    mark(
        "Its partials {numbers} and {last} beat {slow} to {fast} times a second, each two tones {cents} cents apart"
        " where {usual} are usual here: it may be a false string ({chance})."
    ),
    mark(
        "The level was turned up by the recorder in {which} recording, which makes damping look less: the comparison is"
        " rough."
    ),
    # strings, as they are worded now
    mark("Dullness cannot be judged: {reason}."),
    mark("fewer than {n} strings were heard"),
    mark("fewer than {n} strings rang long enough to make a curve"),
    mark("the next sound came too soon"),
    mark("the recorder turned it down too soon"),
    mark("it hardly stands out of the noise"),
    mark("it was damped at once"),
    mark("too few of its partials could be followed"),
    mark("it was cut or covered before it had fallen by 10 dB"),
    mark(
        "Plucked {n} times; the pitches differ by up to {cents} cents, more than chance: it slips, or one pluck was"
        " another string."
    ),
    mark("Plucked {n} times; the pitches differ by up to {cents} cents."),
    mark(
        "Plucked {n} times; its pitch fell by {cents} ± {u95} cents from the first to the last, more than its glide or"
        " another pluck explains: not holding (slipping pin, knot or stretch), or one pluck was another string; look."
    ),
    mark(
        "Its {n} partials die away {times} times ({low} to {high}) as fast as the other strings lead one to expect; it"
        " rings {s} s where {usual} s are usual here: dull ({chance}); replace when money allows."
    ),
    mark(
        "Its {n} partials die away {times} times ({low} to {high}) as fast as the other strings lead one to expect,"
        " though as a whole it rings {s} s where {usual} s are usual here: dull ({chance}); replace when money allows."
    ),
    mark(
        "Its {n} partials die away {times} times ({low} to {high}) as fast as the other strings lead one to expect:"
        " dull ({chance}); replace when money allows."
    ),
    mark(
        "Its {n} partials die away {times} times ({low} to {high}) as fast as the other strings lead one to expect; it"
        " rings {s} s where {usual} s are usual here: it may be dull ({chance}); pluck it again to be surer."
    ),
    mark(
        "Its {n} partials die away {times} times ({low} to {high}) as fast as the other strings lead one to expect,"
        " though as a whole it rings {s} s where {usual} s are usual here: it may be dull ({chance}); pluck it again to"
        " be surer."
    ),
    mark(
        "Its {n} partials die away {times} times ({low} to {high}) as fast as the other strings lead one to expect: it"
        " may be dull ({chance}); pluck it again to be surer."
    ),
    mark(
        "Its partials {numbers} and {last} beat {slow} to {fast} times a second, each two tones {cents} cents apart"
        " where {usual} are usual here, the weaker {below} dB below the other: a false string ({chance})."
    ),
    mark(
        "Its partials {numbers} and {last} beat {slow} to {fast} times a second, each two tones {cents} cents apart"
        " where {usual} are usual here, the weaker {below} dB below the other: it may be a false string ({chance})."
    ),
    mark(
        "Its partial {number} beats {rate} times a second, two tones {cents} cents apart where {usual} are usual here,"
        " the weaker {below} dB below the other: it may be a false string ({chance})."
    ),
    mark(
        "Its partial {number} beats {rate} times a second, two tones {cents} cents apart where {usual} are usual here,"
        " the weaker {below} dB below the other: a false string ({chance})."
    ),
    mark("String {name} answering would sound the same: damp all other strings, pluck it again and listen."),
    mark(
        "Its partials lie {n} times as far off the law of a stiff string as is usual here: look for a kink, an uneven"
        " or worn place, a loose winding."
    ),
    mark(
        "It buzzes or something rattles: above {hz} Hz the sound holds until {held} s and has fallen by {db} dB at"
        " {stopped} s, wavering in step with the string ({locked} dB); look for what it touches or shakes."
    ),
    # to check by eye
    mark("Not heard: is it there, and is a sharp loose end left at the pin or soundboard?"),
    mark("Far too low: is it the right string for this place, and do its knot and pin hold?"),
    mark("Fell from pluck to pluck: does the pin turn back, or the knot draw through?"),
    mark("Buzzes: does it touch a lever, disc or neighbour, is a winding loose, does something on the harp?"),
    mark("Beats: is it uneven, kinked, twisted or worn at one place?"),
    mark("Partials out of line: is there a kink, a worn place or a loose winding?"),
    mark("Dull: is it frayed, dirty, rusty or flattened?"),
    mark("Windings: open, loose, worn through or rusty, above all where they end near knot and pin."),
    mark("Plain wire: rust, kinks, and wear at the bridge pin."),
    mark("Gut: fraying, loose fibres, cracks, and places gone white or thin."),
    mark("Plain strings: nicks, roughness and flat places."),
    mark("Where each lever touches the string: flattened, grooved or cut?"),
    mark("Where each disc touches the string: flattened, grooved or cut?"),
    mark("Knots at the soundboard: do they sit firmly, or draw into the hole?"),
    # the whole harp
    mark(
        "All strings die away fast (typical loss factor {loss}): they may all be old, and comparing them with each"
        " other does not show that. Compare with a recording of a similar harp."
    ),
    mark(
        "The {n} strings that this harp and the reference survey ({name}) share die away {ratio} times ({low} to"
        " {high}) as fast here as there: more than another room or recorder explains; this harp's strings may all be"
        " old."
    ),
    mark(
        "The {n} strings that this harp and the reference survey ({name}) share die away {ratio} times ({low} to"
        " {high}) as fast here as there: no more than another room or recorder may explain (up to {limit} times)."
    ),
    mark("Damped clearly more than the rest against the reference: {names}."),
    mark("Too few strings ring in both this recording and the reference survey ({name}) to compare their damping."),
    mark(
        "The level was turned by the recorder itself in {which} recording, which changes how fast strings seem to die"
        " away: the comparison is rough."
    ),
    mark("this and the reference"),
    mark("the reference"),
    mark("this"),
    mark("{file}: the clock was not checked: {why}"),
    mark(
        "{file}: the recorder's clock shows the {hz} Hz reference {off} ± {u95} cents {way}; that is taken off every"
        " pitch."
    ),
    mark("high"),
    mark("low"),
    mark(
        "The steady tone at the start lies {cents} cents {side} {hz} Hz: further than any recorder's clock is off, so"
        " it was not used."
    ),
    mark(
        "No steady tone near {hz} Hz was found in the first {within} seconds: let it sound alone for {least} seconds"
        " before the first string."
    ),
    mark("You named the pluck at {at} s {string}, but no sound begins there."),
    mark("Your correction of the pluck at {at} s fits neither its place in the row nor its sound."),
    mark("{file}: you said the strings were plucked up, but they sound in another order."),
    mark("{file}: you said the strings were plucked down, but they sound in another order."),
    mark("The later recording added no string."),
    mark("Recorded again: {names}."),
    mark("{string} was said to be missing, but a pluck is best explained by it."),
    mark("You said that no string is missing, but {names} was not heard: passed over, or plucked too softly?"),
    mark("You said that no string is missing, but {names} were not heard: passed over, or plucked too softly?"),
    mark("You said that no other string is missing, but {names} was not heard: passed over, or plucked too softly?"),
    mark("You said that no other string is missing, but {names} were not heard: passed over, or plucked too softly?"),
    mark("Settled by what was said to the plan: {doubt}"),
    mark("You stated the tuning, yet: {doubts}"),
    mark(
        "All strings are off by about the same amount ({cents} cents): the harp is in tune with itself at about A4 ="
        " {a4} Hz. Whether that is its pitch or slackness the recording cannot tell."
    ),
    mark("another key"),
    mark("semitone"),
    mark("semitone above"),
    mark("another layout"),
    mark("raised strings"),
    mark("lowered strings"),
    mark(
        "There are {n} sounds that ring like strings for {m} strings, and read so all lie about {far} semitones low: is"
        " --layout {layout} this harp's? If not, analyse again with the layout that is; if so, analyse again with the"
        " --first and the --last string that were plucked."
    ),
    mark(
        "Only {names} lies near its note, and all others about a semitone below, though all levers were said to be on:"
        " were those of the others off? If so, analyse again with --levers {said}."
    ),
    mark(
        "Only {names} lie near their notes, and all others about a semitone below, though all levers were said to be"
        " on: were those of the others off? If so, analyse again with --levers {said}."
    ),
    mark(
        "{name} stands about a semitone above its neighbours: is there a disc that does not release? Have that looked"
        " at before it is tuned."
    ),
    mark(
        "{names} stand about a semitone above their neighbours: is there a disc that does not release? Have that looked"
        " at before it is tuned."
    ),
    mark(
        "{name} stands about a semitone above its neighbours: is its lever engaged? If so, put it off and record that"
        " string again, or analyse again with all levers that were on."
    ),
    mark(
        "{names} stand about a semitone above their neighbours: are their levers engaged? If so, put them off and"
        " record those strings again, or analyse again with all levers that were on."
    ),
    mark(
        "{name} stands about a semitone below its neighbours: was its lever, said to be on, off? If so, analyse again"
        " with all levers that were on."
    ),
    mark(
        "{names} stand about a semitone below their neighbours: were their levers, said to be on, off? If so, analyse"
        " again with all levers that were on."
    ),
    mark("About a semitone above its neighbours, though all levers were said to be on: are theirs off?"),
    mark("About a semitone below its neighbours: is its lever off, which was said to be on?"),
    mark("below"),
    mark("above"),
    mark("a semitone below"),
    mark("a semitone above"),
    mark("{n} semitones below"),
    mark("{n} semitones above"),
    mark("{n} semitones"),
    mark(
        "Nobody said which key the open strings are tuned to, and the recording reads better in {key} than in {other}:"
        " every name may be another string's. Play a scale on the harp, and analyse again with --tuning {a} or --tuning"
        " {b}."
    ),
    mark(
        "Nobody said which key the open strings are tuned to, and the recording reads about as well in {key} as in"
        " {other}: every name may be another string's. Play a scale on the harp, and analyse again with --tuning {a} or"
        " --tuning {b}."
    ),
    mark(
        "The strings fit {key} clearly better than {setting}: set like that, neighbouring strings would agree to about"
        " {better} cents instead of {worse}. Look at the levers or pedals. If they are set for {same}, analyse again"
        " with --tuning {again} (and --levers or --pedals); if not, say so by giving --tuning and --levers or --pedals"
        " as they are."
    ),
    mark(
        "Every string lies about {far} its target, very evenly (within {cents} cents). No slack harp is too high: it is"
        " probably set to another key than {setting}. Look at the levers or pedals and give --tuning and --levers or"
        " --pedals as they are."
    ),
    mark(
        "Every string lies about {far} its target, very evenly (within {cents} cents). That may be slackness,"
        " or the harp is set to another key than {setting}. Look at the levers or pedals and give --tuning and --levers"
        " or --pedals as they are."
    ),
    # the recording
    mark("Part of the file could not be read: {why}. {length} of it was used."),
    mark("the file is damaged"),
    mark("the file ends before its header says"),
    mark("Strings plucked in the lost part are missing here, though they may be on the harp."),
    mark("Send the recording again as a file (not through a messenger that re-packs it), or record again."),
    mark("{n} samples of the file are not numbers; they were read as silence."),
    mark("Plucks at those places may be misjudged."),
    mark("Export the recording again as 16- or 24-bit WAV or FLAC."),
    mark("The sound was too loud for the recorder in {n} place ({samples} samples at full scale, at {where})."),
    mark("The sound was too loud for the recorder in {n} places ({samples} samples at full scale, at {where})."),
    mark(
        "The sound was too loud for the recorder in {n} places ({samples} samples cut off {level} dB below full scale,"
        " and turned down since, at {where})."
    ),
    mark(
        "How bright or dull those strings are, whether they buzz, and the start of their decay; pitch hardly suffers."
    ),
    mark("Turn the recording level down, move the phone a little away, or pluck those strings more gently."),
    mark("The sound breaks off {n} time ({total} s of dead silence in all, at {where})."),
    mark("The sound breaks off {n} times ({total} s of dead silence in all, at {where})."),
    mark("{where} and {n} more"),
    mark("The decay of the strings that were sounding, and plucks that fell into a gap."),
    mark("Close other apps, switch off noise reduction and silence removal, and send the original file."),
    mark("The recording is very quiet: its loudest moment is {db} dB below full scale."),
    mark("The decay and the upper partials, which sink into the noise first."),
    mark("Put the phone about 40 cm from the middle of the soundboard and turn the recording level up."),
    mark("The quietest moments are only {above} dB below the plucks (noise at {db} dB)."),
    mark("The decay times and the judgement of dull strings; soft plucks may be missed."),
    mark(
        "Record in a quiet room with windows shut and fans off, and muffle the neighbours. Put the phone about 40 cm"
        " from the middle of the soundboard."
    ),
    mark("Mains hum at {hz} Hz and its multiples ({db} dB)."),
    mark("The decay of bass strings, and their pitch where a string lies close to the hum."),
    mark("Unplug the recorder's charger, keep away from lamps, dimmers and amplifiers, or record on battery."),
    mark("Nothing above {khz} kHz is in the recording."),
    mark("The judgement of dull strings from the middle upwards, and the top strings' partials."),
    mark(
        "Record with a music or voice-memo app at 44.1 or 48 kHz in its best quality (not a phone call or a"
        " messenger's voice message) and send the file itself."
    ),
    mark(
        "The recorder seems to turn its level up by itself as a string fades (its hiss swells by {db} dB within a"
        " typical pluck)."
    ),
    mark("The decay times come out too long; comparisons between strings still hold roughly, pitch is sound."),
    mark("Switch off automatic level, voice enhancement and noise reduction in the recording app."),
    mark(
        "The recorder seems to turn the sound down further as a string fades, as noise reduction does (its hiss falls"
        " with the sound, by up to {db} dB)."
    ),
    mark(
        "Strings seem to die away sooner than they do. That was allowed for as far as the hiss shows it; decay times"
        " and the judgement of dull strings are less sure, pitch is sound."
    ),
    mark("{n} of {of} plucks follow the one before within {apart} s (at {where})."),
    mark("Their pitch has a wider interval and their decay can hardly be measured."),
    mark("Leave each string time to sound: about 6 s for bass wires, 3 s in the middle, 2 s at the top."),
)
