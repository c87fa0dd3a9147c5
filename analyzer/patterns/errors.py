"""Why a recording gave nothing, what is wrong with what was given, and what a command is doing."""

from analyzer.speech import mark

PATTERNS = (
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
