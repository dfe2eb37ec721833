"""What is said of texts: tab, the one-line form, charts, melodies."""

# code: (what is the matter, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    # reading tab
    "unreadable": (
        "The text cannot be read. Places to mend: {count}.",
        "See each place for what to type instead.",
    ),
    "text-too-long": ("The text is longer than {most} characters.", "Send it in parts."),
    "no-tab": (
        "There are no tab rows here.",
        "Write {strings} rows of dashes and frets, one for each string, the top row string 1; or one line such as 32514251.",
    ),
    "wrong-row-count": (
        "Rows that stand together here: {rows}. Strings of a {instrument}: {strings}.",
        "Write all {strings} rows, or start each row with its string number, as in 1|---0---|.",
    ),
    "labels-out-of-order": (
        "The labels {labels} before the rows are in no order.",
        "Number the rows 1, 2, 3 ... from the top, or use the tuning's letters.",
    ),
    "labels-name-no-tuning": (
        "The letters {labels} before the rows name no tuning known here.",
        "State the tuning ({known}), or number the rows 1, 2, 3 ...",
    ),
    "capo-not-understood": (
        "A capo is mentioned, but not where; it was read as none.",
        "Write it as capo 2.",
    ),
    "stop-not-understood": (
        "The fifth string cannot be stopped at fret {fret}; that was left out.",
        "Its frets count like the others, {first} and up.",
    ),
    "overruled": ("The text says {said}, but {used} was asked for and used.", ""),
    "pickup-once": ("The pickup inside the repeat is played the first time only.", ""),
    "closer-spacing": (
        "Measure {measure} has {columns} columns where others have {usual}; it was read as a whole measure.",
        "Write (1/2) over it if it is shorter on purpose.",
    ),
    "rows-apart": (
        "The rows {rows} stand apart from the rows above them that they belong to.",
        "Take out the line between.",
    ),
    "trailing-words": ("“{words}” after the last bar is not music and was left out.", ""),
    "bars-do-not-line-up": (
        "This row has {measures} measures, the others have {others}.",
        "Put the same bar lines | into every row.",
    ),
    "row-width": (
        "In measure {measure} this row is {columns} columns wide, the others are {others}.",
        "Add or take out dashes until all rows are equally wide.",
    ),
    "empty-row-width": (
        "An empty row is {columns} columns wide where the others have {others}; it was read as empty.",
        "",
    ),
    "unknown-mark": (
        "“{mark}” means nothing in a tab row.",
        "Use frets, -, |, h, p, / or \\ for slides, b for a choke, x for a mute, (7) for a ghost note, = for a tie.",
    ),
    "letter-for-nought": (
        "“{mark}” is a letter.",
        "Type 0 for an open string; for repeats use : or * beside the bar.",
    ),
    "marks-left-out": (
        "The letters {marks} outside the rows were left out.",
        "Write h, p or / between the two frets.",
    ),
    "run-together": ("The digits {digits} can be read in several ways.", "Put a - between the frets."),
    "digits-apart": (
        "{digits} was read as two notes, {read}.",
        "Put a - between them if that is right; a fret that high is not on this neck.",
    ),
    "harmonic-as-note": ("The harmonic {mark} was read as a plain note.", ""),
    "choke-without-note": ("“{mark}” chokes no note.", "Write it right after the fret, as in 10b."),
    "passed-over": ("“{mark}” ({what}) was left out.", ""),
    "link-to-nowhere": ("“{mark}” leads to no note and was left out.", ""),
    "too-many-measures": ("There are more than {most} measures.", "Send it in parts."),
    "measure-count": ("{found} measures were found, {stated} were announced.", "Check the bar lines."),
    "cannot-place": (
        "Measure {measure} is {columns} columns wide, and its notes do not fall on {slots} or twice {slots} even steps of {meter}.",
        "Give each step the same number of columns (two is easiest), state the meter if it is not {meter}, or write (1/2) over a measure that is shorter on purpose.",
    ),
    "cannot-place-stated": (
        "Measure {measure}, {columns} columns wide, has notes between the {stated} columns that were stated.",
        "Leave the number of columns out, or move the notes onto them.",
    ),
    "measure-short": (
        "Measure {measure} is {columns} columns wide where {expected} were expected; its end was taken as silence.",
        "Add dashes if notes are missing.",
    ),
    "measure-long": (
        "Measure {measure} is {columns} columns wide where {expected} were expected; the rest was left out.",
        "Take out the extra dashes.",
    ),
    "measure-too-short": (
        "{length} is no length for a measure of {meter} here.",
        "Write a share of a whole note that makes whole steps, as in (1/2).",
    ),
    "pushed-columns": (
        "Two-digit frets or marks pushed this measure along; the notes were put back on the beat. Columns: {columns}.",
        "",
    ),
    "pickup-off-grid": (
        "The notes before the first bar, {columns} columns, do not fit the spacing of the measures after it.",
        "Space them like the measures that follow, two columns an eighth.",
    ),
    "no-notes": ("There are rows but no notes in them.", "Write frets where the notes are."),
    "not-a-chord": (
        "“{word}” among the chords is none, and was left out.",
        "Chords look like G, Em, D7, C/E or N.C.",
    ),
    "finger-without-note": ("The picking finger {finger} stands under no note and was left out.", ""),
    "link-turned": (
        "A {written} in the wrong direction was read as a {read}.",
        "Hammer-ons go up, pull-offs go down.",
    ),
    "tie-to-other-fret": (
        "The tie on string {string} leads to another fret, {fret}.",
        "A tie joins equal frets, as in 2=2; use h, p or / between different ones.",
    ),
    "fifth-from-peg": (
        "Frets 1 to 5 on the fifth string were taken as counted from its own peg, and five was added.",
        "Count them like the other strings (6 and up) to avoid this.",
    ),
    "assumed": ("Read as: {parts}.", "State what is different."),
    # one-line form
    "one-line-mark": (
        "“{mark}” means nothing here.",
        "Type string numbers, as in 32514251; a fret after a dot, 3.2; a comma after each measure.",
    ),
    "one-line-chord": ("“{word}” is no chord.", "Chords look like G, Em, D7; leave a space after one."),
    "link-without-note": ("“{mark}” has no note before it.", "Say first which string sounds, as in 3.2 h3."),
    "pinch-not-open": ("This ) closes nothing.", "Write notes that sound together as (15)."),
    "pinch-not-closed": ("A ( is never closed.", "Write notes that sound together as (15)."),
    "shape-size": (
        "A shape of {given} frets, but {strings} strings are held.",
        "Give one fret for each long string, lowest first, as in 2-0-1-2: and x for one left out.",
    ),
    "two-notes-on-one-string": ("String {string} has two notes at once.", "Keep one of them."),
    "measure-length": (
        "Measure {measure} lasts {slots} notes' time, {expected} make it full.",
        "Add - to hold on, or end it with ; if it is short on purpose.",
    ),
    "measure-overfull": (
        "Measure {measure} lasts {slots} notes' time, but only {expected} fit.",
        "Put a comma where the next measure begins, or take notes out.",
    ),
    "measure-parts": (
        "Measure {measure} ends within a step ({slots} notes' time).",
        "Let it last a whole number of notes' time.",
    ),
    "pickup-whole-measure": (
        "The pickup lasts {slots} notes' time, a whole measure or more.",
        "End full measures with a comma; a ; after the first one makes it a pickup.",
    ),
    "too-fine": (
        "A rhythm here is finer than can be counted.",
        "Use ' for half a note's time, t for three in the time of two.",
    ),
    "empty-measure": ("A measure lasts no time.", "Take out the extra comma."),
    "one-line-cannot": ("The one-line form cannot carry this rhythm.", "Use the tab instead."),
    # charts and melodies
    "chart-length": (
        "{length} is no length for a measure here.",
        "Write a share of a whole note, as in (1/2).",
    ),
    "chart-nothing-before": ("Nothing stands before this to go on with.", "Write a chord first."),
    "chart-empty-measure": (
        "A measure without chords.",
        "Write a chord, % for the measure before again, or N.C.",
    ),
    "chart-uneven": (
        "{chords} chords cannot share this measure evenly.",
        "Use . to let a chord go on, as in {example}.",
    ),
    "chart-chord": (
        "“{word}” is no chord.",
        "Chords look like G, Em, D7, F#m7b5, C/E, N.C., or 1 4 5 when the key is known.",
    ),
    "chart-two-ways": (
        "“{word}” in small letters can be read in two ways.",
        "Write {chord} if the chord of that name is meant.",
    ),
    "chart-empty": ("The chart has no measures.", "Write | G | C | D | G |, with A: before a part."),
    "chart-order": (
        "The order names part {part}, which is not in the chart ({known}).",
        "Use the chart's own part names.",
    ),
    "melody-mark": (
        "“{mark}” means nothing in a melody.",
        "Write note letters C-B, c-b with lengths, as in G2 B2 d4, and | between measures; ^f or f# is a sharp, _b a flat.",
    ),
    "melody-length": (
        "Measure {measure} of part {part} lasts {ticks} eighths in the melody and {expected} in the chart.",
        "Make each melody measure as long as its chart measure.",
    ),
    "melody-measures": (
        "Part {part}: measures of the melody {measures}, of the chart {expected}.",
        "Give each as many; | or a comma ends a measure of the melody, | one of the chart.",
    ),
    "melody-part": (
        "The melody has a part {part} that is not in the chart ({known}).",
        "Use the chart's own part names.",
    ),
    # tunes in ABC notation
    "abc-mark": (
        "“{mark}” means nothing in ABC notation here.",
        'Write note letters C-B, c-b with lengths, as in G2 B2 d4; | between measures; chords as "G".',
    ),
    "abc-length": ("{value} is no length.", "Write a length as 2, 3/2 or /2, and the unit as L:1/8."),
    "abc-meter": (
        "The meter {value} is not known here.",
        "Write M: with one of {known}, or with C or C|.",
    ),
    "abc-key": (
        "{value} is no key.",
        "Write K: with a capital letter and a mode, as in K:G, K:Em, K:Ador, K:Dmix, or K:none.",
    ),
    "abc-empty": (
        "There is no tune with notes here.",
        "Begin a tune with X:, end its heading with K:, then write notes.",
    ),
    "abc-too-many-tunes": ("There are more than {most} tunes.", "Send them in parts."),
    "abc-voices": ("Only the first voice was read.", ""),
    "abc-no-chord": (
        "“{word}” above the notes is no chord; it and others like it were left out.",
        'Chords look like "G", "Em", "D7", "C/E".',
    ),
    "abc-key-changes": (
        "The key changes to {value}; the notes were read so, and the key at the beginning is the tune's.",
        "",
    ),
    "abc-no-key": (
        "No key is stated; the notes were read without sharps and flats.",
        "Write K: before the notes.",
    ),
    "abc-no-meter": ("No meter is stated; {meter} was taken.", "Write M: before the key."),
    "abc-rounded": (
        "Notes in the time of others that do not divide evenly were put on the nearest tick.",
        "",
    ),
    "abc-after-the-end": (
        "An empty line ends the tune; what follows was left out.",
        "Take the empty line out, or begin the next tune with X:.",
    ),
    "abc-pickup-kept": (
        "Pickups that follow a full measure sound over its end; this goes for part {parts}.",
        "Make the measure before the repeat sign shorter by the pickup.",
    ),
    "abc-other-lengths": (
        "Measures of another length than the meter's were kept as they are: {measures}.",
        "If bar lines are missing there, put them in; a change of meter is written as [M:3/4].",
    ),
    "abc-order-left-out": (
        "The order {order} names parts that are not marked in the tune; it was left out.",
        "Mark each part with a line such as P:A.",
    ),
    # parts of what was assumed
    "assumed-meter": ("{value} time", ""),
    "assumed-tuning": ("{value} tuning", ""),
    "assumed-columns": ("{value} columns a measure", ""),
    "assumed-top-row": ("the top row is string 1", ""),
    "assumed-turned": ("the lowest row is string 1, as labelled", ""),
    "assumed-missing-rows": ("rows left out are empty", ""),
    "assumed-long-dashes": ("a long dash stands for {value} short ones", ""),
    "assumed-pickup": ("the short first measure is a pickup", ""),
    "assumed-no-bar-lines": ("no bar lines, so {value} equal measures", ""),
    "assumed-wrapped-measure": ("measure {value} goes on in the next staff", ""),
}
