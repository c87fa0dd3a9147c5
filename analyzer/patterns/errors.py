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
        " done, look whether --layout is this harp's. Of a few strings recorded once more, say which with"
        " --only."
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
    mark("It cannot be removed; close it, and do not work from it."),
    mark("It takes more memory than there is; cut out the part with the harp."),
    mark("It took longer than {n} s (--limit-seconds); cut out the harp's part."),
    mark("It took more than {n} MB of memory (--limit-mb); cut out the harp's part."),
    mark("The program was ended while it read it; please report this with the recording."),
    mark("The program failed on it ({what}); please report this."),
    mark("A link to a place outside the folder, which is not followed; copy the recording into the folder."),
    mark(
        "only single strings were recorded again there; harp-survey reply with the first survey before it puts them in"
        " their places: name the folder that it writes."
    ),
    # whatever is given
    mark("Did you mean {near}?"),
    mark("Nothing was started."),
    mark("One problem:"),
    mark("{n} problems:"),
    mark("line {n}"),
    mark("line {n}, column {m}"),
    mark("line {n}, column {m} ({column})"),
    mark("line {n}, no column {column}"),
    mark("lines {lines}, column {m} ({column})"),
    mark("lines {lines}, no column {column}"),
    mark("lines {lines}"),
    mark("{file}, line {n}"),
    mark("{file}, line {n}, price"),
    mark("Cannot be read ({why})."),
    mark("{why}; name another file or folder."),
    mark("Permission denied"),
    mark("not an ordinary file"),
    mark("Is a directory"),
    mark("Not a directory"),
    mark("No space left on device"),
    mark("{day} is no day; write it as 2026-03-01 (year-month-day)."),
    # tunings and names (`tuning`, `notes`, `cli.analyze`)
    mark("A4 = {a4} Hz is out of range; give one from {low} to {high} Hz (440 is usual)."),
    mark("Levers were named, but {layout} has none (kind {kind}); leave them out."),
    mark("Pedals were named, but {layout} has none (kind {kind}); leave them out."),
    mark("String {string} is given two targets of its own, {one} and {other}."),
    mark(
        "The tuning {key} and the pedals {pedals} contradict each other; give only the pedals, or with them"
        " the key they make (or {open}, if that is the open tuning)."
    ),
    mark("Pedals {pedals} cannot be read; say flat, natural, sharp or all seven: 'D C Bb Eb F G A'."),
    mark(
        "The own target {text} of string {string} cannot be read; give a note (Cb1), an offset in cents"
        " (+12.5) or a frequency (261.3 Hz)."
    ),
    mark(
        "The own target {text} of string {string} is {cents} cents from {note}; a target may be at most"
        " {limit} cents away."
    ),
    mark("{text} is not a note; write letter, accidental and octave, as in C4, Eb4 or F#3."),
    mark("{text} has no '='; write it like {example}."),
    mark("--pluck {text}: {seconds} is no number of seconds; write --pluck 34.2=D4."),
    mark("Levers {levers}: write off, on, or the strings whose levers are on, as in C4,F4."),
    mark("Nothing to put into the record: name a survey's folder, or say what was --done."),
    mark("--only says already which strings were plucked: leave out --first and --last."),
    mark("--only names no string; name those that were plucked, as in G6,C5, or leave it out."),
    mark("--pluck {text} has no string; write --pluck 34.2=D4."),
    mark(
        "--retuned {day}: no two surveys lie before and after that day; give a day between two surveys that have dates,"
        " or leave it out."
    ),
    mark(
        "--new {string}={day}: no two surveys lie before and after that day; give a day between two surveys that have"
        " dates."
    ),
    mark(
        "Signed by {name}, and new files would undo that; name another folder with --out, or take {file} out of this"
        " one first."
    ),
    # layouts (`layout`)
    mark("Layout {name} may be {one} or {other}; name the one whose range is your harp's."),
    mark("Unknown layout {name}; built in are {kinds}, or give the path of a TOML file."),
    mark("({n} more in this file)"),
    mark("Not valid TOML ({why})."),
    mark("Not UTF-8 text, so not a layout; save it as UTF-8."),
    mark("Larger than any layout ({n} bytes); name another file."),
    mark("Cannot be read ({why}); give a layout's TOML file or a built-in name."),
    mark("{n} strings; list 1 to {m} under strings = [...]."),
    mark("{what}; 'harp-survey layouts' shows the form of a layout."),
    mark("There is no line for {name}"),
    mark("Unknown key {name}; known are {names}."),
    mark("Unknown material {name}; it may be {names}."),
    mark("{name} = {value} is not between 0 and {limit}; correct it, or leave it out if it is not known."),
    mark("A string is named by letter and octave; write {name}."),
    mark("Its core ({core} mm) is thicker than the whole ({outer} mm); correct one of them."),
    mark("String {name} is listed {n} times; keep one row."),
    mark("String {high} comes after {low} but is lower; list the lowest string first."),
    mark(
        "String {name} is left out between {low} and {high}; give it a row, as a harp has every letter (say"
        " --missing for a string that is not there now)."
    ),
    # lists of harps (`manifest`, `intake`, `folder`, `cli.batch`)
    mark("No folder or file that can be read; check the name."),
    mark("Cannot be read; give a folder, or a list as a CSV file."),
    mark("Not UTF-8 text; save the list as CSV in UTF-8."),
    mark("Larger than any manifest ({n} bytes)."),
    mark("More than {n} lines; split the list."),
    mark("Not CSV from here on ({why}); check the quotation marks."),
    mark("The file is empty; its first line names the columns: {names}."),
    mark("No instrument is listed in it; write one a line."),
    mark("Unknown column {name}; known are {names}."),
    mark("The column {name} is there twice; keep one."),
    mark("There is no column {name}; add it."),
    mark("{n} cells where the first line has {m}; mend the line."),
    mark("A cell that holds ';' stands in quotation marks."),
    mark("It holds a line break or another character that does not print; take it out."),
    mark("{n} characters, more than {m}; shorten it."),
    mark("It is empty, and is needed."),
    mark("One recording is named twice; name each once."),
    mark("{name} is a folder; name the recording in it."),
    mark("There is no file {name} (looked for from the manifest's own folder); check the path."),
    mark("{name} is no path; check it."),
    mark("{text} is no relative humidity; write a number from 0 to 100."),
    mark("{text} is no frequency; write A4 in Hz, such as 440 or 442."),
    mark("No layout is given; name it here, or --layout for all (harp-survey layouts lists them)."),
    mark(
        "The instrument {name} stands at {place} too, with the same date; give two harps two names, and put"
        " the recordings of one harp into one line, parted by ';'."
    ),
    mark("{name} cannot be told from {place}; rename one of them."),
    mark("The recording {name} is that of {other} at {place} already."),
    mark("No recording is in it; give the folder that they are in."),
    mark("By its name it is the same harp as {name}; rename one, or write a manifest."),
    mark("More than {n} files; split it."),
    mark("Nothing could be surveyed: {file} says of each recording why, and what to do."),
    mark("{option} {value}: give a number above 0."),
    # price lists and answers (`prices`, `answers`)
    mark("{text} is not a plain amount; {why}, as in 12.50."),
    mark("leave out {mark}: write the number alone"),
    mark("write a dot for the decimals and no mark for the thousands"),
    mark("write a number"),
    mark("write a number from 0 up, with at most two decimals"),
    mark("The set of bass wires is listed twice; keep one line."),
    mark("Larger than any price list ({n} bytes)."),
    mark("Cannot be read ({why}); give a price list as a CSV file."),
    mark("Not UTF-8 text; save the price list as CSV in UTF-8."),
    mark("Not a CSV file ({why})."),
    mark("More than {n} lines; leave out what is not for harps."),
    mark("No column {name}; the first line names the columns: {names}."),
    mark("A column is named twice in its first line; keep one."),
    mark("Unknown stringing {name}; it may be {names}."),
    mark("{string} is listed on lines {n} and {m}; keep one, or say material or stringing."),
    mark("Unknown answer {name}; known are {names}."),
    mark("Not a file of answers ({why})."),
    mark(
        "Written by a newer version (schema {schema}, this program reads up to {newest}); install the newer"
        " harp-string-survey."
    ),
    mark("Not the answers to a plan ({why}); delete it and answer again."),
    mark("The report has no plan"),
    mark("The answers are not kept with the survey and will be asked again"),
    mark("{string} is named to be replaced and as confirmed; name it for one of them."),
    mark("{string} is named to be replaced and as already fitted; name it for one of them."),
    mark("{string} fitted on {text}: not a date; write year-month-day, as in 2026-03-02."),
    # surveys, and what does not fit together (`survey`, `lineup`, `merging`, `plan`, `passes`, `cli`)
    mark("There is no such survey folder or recording."),
    mark("A recording needs --layout (and --tuning); or name a folder that analyze wrote."),
    mark("Not a survey this program can read ({why}); give the folder that analyze wrote."),
    mark("The date {day} of {name} is no day; write it as in 2026-03-01 and analyse again."),
    mark("A comparison takes two surveys or more; name the folders that analyze wrote."),
    mark("--regulation takes two surveys, open and engaged (got {n})."),
    mark("--regulation OPEN ENGAGED names both surveys; leave out the others."),
    mark(
        "The surveys are of different layouts: {one} ({low} to {high}) and {other} ({lowest} to {highest}); compare"
        " surveys of one harp, or analyse one of the recordings again with the other's --layout."
    ),
    mark(
        "The levers or pedals stood differently: '{one}' and '{other}'; record both in one setting, or use --regulation"
        " to measure what they raise."
    ),
    mark(
        "The strings recorded again were held against other notes ('{setting}', A4 = {a4} Hz) than the first survey's"
        " ('{other}', A4 = {before} Hz); analyse them again with its --tuning, --a4 and --target."
    ),
    mark("The survey was not made from this recording; name the file it was made from."),
    mark("This recording of the survey is not among the files; name all or none."),
    mark("Name the survey to plan from: harp-survey plan SURVEY_FOLDER --out DIR."),
    mark("--from needs the earlier survey and the later one: --from EARLIER LATER."),
    mark("--done counts the passes between two surveys: name the earlier one with --from."),
    mark("The last plan has {n} passes."),
    mark("Another layout ({layout}) than the later {other}."),
    mark("Tuned to '{setting}', the later survey to '{other}'; analyze both with the same words."),
    mark(
        "No plan is kept with this survey, so what was done since is not known; leave out --from, or name the survey"
        " that the plan was made from."
    ),
    mark("Write string and day, as in C4=2026-03-02."),
    mark(
        "--fitted {string}={day} is after the first pass on {start}: give the day on which it was put on, or leave it"
        " out while it is still to be fitted."
    ),
    mark("No plan of up to {n} passes brings this harp to pitch within the limits; ask a qualified harp technician."),
    # a harp's record (`record`, `cli.record`)
    mark("Is no harp's record; 'harp-survey record add' begins one."),
    mark("Has files in it but is no harp's record; name a new or empty folder."),
    mark("No entry {name}; there are: {known}."),
    mark("This survey is in the record already, as {entry}."),
    mark("An entry needs its day, as in --date 2026-03-01 (got {date})."),
    mark("Another program is writing to this record; try again when it is done."),
)
