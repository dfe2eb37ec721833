"""What is said of music that does not hold together, and of breaks."""

# code: (what is the matter, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    # music
    "unknown-meter": ("“{name}” is no meter known here.", "Use one of {known}."),
    "unknown-tone": ("“{name}” is no tone.", "Use a letter A-G with # or b."),
    "unknown-key": (
        "“{name}” is no key.",
        "Write G, Em, Bb, F# minor; of a tune also a mode, as in A dorian, D mixolydian.",
    ),
    "unknown-chord": ("“{name}” is no chord.", "Chords look like G, Em, D7, Bb, F#m7b5, C/E or N.C."),
    "unknown-instrument": ("“{name}” is no instrument known here.", "Use one of {known}."),
    "unknown-tuning": ("“{name}” is no tuning of the {instrument} known here.", "Use one of {known}."),
    "unknown-pattern": ("“{name}” is no backup pattern of the {instrument}.", "Use one of {known}."),
    "no-room-to-fill": (
        "A fill of {ticks} ticks from {onset} on does not lie within the {most} ticks of the chart, in steps of {slot}.",
        "Begin and end on an eighth (a sixteenth in 2/4) within it.",
    ),
    "capo-out-of-reach": ("A capo at fret {capo} leaves no neck.", "Use 0 to {most}."),
    "position-does-not-sound": (
        "{position} shapes with the capo at {capo} sound in {heard}, not in {key}.",
        "Put the capo at {right_capo}, or change the position.",
    ),
    "stop-out-of-reach": (
        "The fifth string cannot be stopped to sound {stop}.",
        "Give a MIDI pitch from {low} to {high}.",
    ),
    "no-fifth-string": ("A {instrument} has no short fifth string to stop.", "Leave the stop out."),
    "no-such-string": ("There is no string {string}.", "Strings count from 1, the top row."),
    "no-such-fret": ("There is no fret {fret} on string {string}.", "Check the number."),
    "under-the-stop": (
        "The fifth string has no fret {fret}: it begins at the fifth.",
        "Write 0 for open, or 6 and up.",
    ),
    "bad-lick": ("The lick does not hold together. Things to mend: {count}.", "See each place."),
    "empty-lick": ("The lick has no notes.", "Write at least one fret."),
    "no-measures": ("The lick has no whole measure.", "Write at least one measure after the pickup."),
    "wrong-hand-style": ("“{hand_style}” is no hand style of this instrument.", "Use one of {known}."),
    "wrong-style": ("“{style}” is no style of this hand style.", "Use one of {known}."),
    "not-writable": (
        "The lick cannot be written out so that it reads back the same.",
        "Keep measures to whole steps and rhythms to sixteenths and triplets.",
    ),
    "rhythm-too-fine": (
        "The rhythm of measure {measure} is too fine to be written out.",
        "Keep notes on 32nds or on triplets, and do not mix the two within a sixteenth.",
    ),
    "no-time-signature": (
        "A measure of {ticks} ticks has no time signature.",
        "Keep measures to whole 32nds.",
    ),
    "pickup-too-long": (
        "The pickup lasts {eighths} eighths.",
        "Use at most {most}: it takes the place of the end of the lick before.",
    ),
    "no-chords": ("The chords do not begin with the first measure.", "Write them as | G | C D |."),
    "chords-past-the-end": (
        "The chords go on after the last of {measures} measures.",
        "Give as many measures of chords as the lick has, parted by |: | G | D |.",
    ),
    "chords-length": (
        "Measures of the chords: {chords}; of the lick: {lick}.",
        "Give as many measures of chords as the lick has, parted by |: | G | D |.",
    ),
    "bad-tune": ("The tune does not hold together. Things to mend: {count}.", "See each place."),
    "no-order": ("No part is ever played.", "Write the order, as in AABB."),
    "no-such-part": (
        "The order names part {part}, but there is only {known}.",
        "Use the chart's own part names.",
    ),
    "no-such-cut-part": (
        "The cuts name part {part}, but there is only {known}.",
        "Use the chart's own part names.",
    ),
    "cuts-do-not-add-up": (
        "Part {part} has {measures} measures, its phrases ({cuts}) do not make that.",
        "Give the measures of each phrase so that they add up.",
    ),
    "tempo-out-of-order": (
        "The tempos are not in order.",
        "Give low, start and high as rising whole numbers above 0.",
    ),
    "unknown-beat-unit": ("“{unit}” is no beat unit.", "Use one of {known}."),
    "bad-role": (
        "Part {part} has no phrase {phrase} to be a {role}.",
        "Count phrases from 1; roles are opener, body, set-up and tag.",
    ),
    "tune-too-long": ("Played in that order the tune has more than {most} measures.", "Shorten the order."),
    # breaks
    "no-breaks": (
        "No break can be made: no {instrument} lick of the pool fills phrase {phrase} ({role}, over {chords}).",
        "Send in a lick for it, ask for another instrument, or ask for less.",
    ),
    "no-plain-break": (
        "{tune} has no plain break for {instrument} whose licks are all in the pool.",
        "Have one made of its melody.",
    ),
    "nothing-to-swap": (
        "No phrase of {tune} has another lick as you ask that can follow the plain one.",
        "Ask for less, or send in licks.",
    ),
    "would-give": ("With {change} the number of breaks would be {total}.", ""),
    "change-max-level": ("licks up to level {value}", ""),
    "change-styles": ("{value} licks too", ""),
    "change-bpm": ("a tempo of {value}", ""),
    "change-avoid": ("no lick left out", ""),
    "change-must-include": ("lick {value} not insisted on", ""),
    "change-style-most": ("up to {value}", ""),
    "change-level-sum": ("levels that come to {value}", ""),
    "change-repeats": ("repeats played as they come", ""),
    "change-everything": ("nothing asked of them", ""),
    "empties": ("{part}: that leaves no lick for phrase {phrases}.", ""),
    "met-by-none": ("{part}: no break of this pool is like that.", ""),
    "part-max-level": ("Level {value} at most", ""),
    "part-styles": ("In {value} only", ""),
    "part-bpm": ("Comfortable at {value}", ""),
    "part-avoid": ("Licks left out", ""),
    "part-must-include": ("Licks insisted on", ""),
    "part-style-most": ("So many of a style at most", ""),
    "part-level-sum": ("Levels that come to {value} at most", ""),
    "part-repeats": ("Repeats played the {value}", ""),
    "does-not-go-there": (
        "Lick {lick} does not fit phrase {phrase}, or fills another number of phrases.",
        "Ask for the alternatives of that phrase.",
    ),
    "rest-erased": ("Measure {measure}: lick {lick} was erased; a rest stands here.", ""),
    "rest-stands": ("Measure {measure}: lick {lick} was taken down; a rest stands here.", ""),
    "taken-down-meanwhile": ("Lick {lick} was taken down while the break was made.", "Ask again."),
    "fill-the-rest-first": (
        "A rest stands in phrase {phrase}, where lick {lick} was taken down; nothing else can be changed before it is filled.",
        "Fill it first: ask for the alternatives of phrase {phrase} and choose one.",
    ),
    "nothing-fills-the-rest": (
        "No lick of the pool fills the rest in phrase {phrase}, where lick {lick} was taken down.",
        "Send in a lick for it.",
    ),
    "stale-break": (
        "Lick {lick} has no place in break {break_code} any more: the pool or the tune has changed.",
        "Ask for a new break.",
    ),
    "stale-tune": (
        "{tune} has another form now than when break {break_code} was made.",
        "Ask for a new break.",
    ),
    "by-or-mix": (
        "The best by what, or by what mix?",
        "Say either by, or mix with at least one number above 0.",
    ),
    "none-found": (
        "None of {tries} breaks drawn is as you ask; the least choice is at phrase {phrase}, licks there: {licks}.",
        "Ask for less of the melody, allow a lick twice, or send in licks for that phrase.",
    ),
    "too-much-at-once": (
        "That asks for too many things along one break: each sum, style and lick that is insisted on multiplies what must be kept apart.",
        "Leave out one of must_include, style_most and level_sum.",
    ),
    "none-together": (
        "Every phrase has licks, but no break of the {instrument} licks is all of that together.",
        "Ask for less.",
    ),
    "would-give-at-most": ("With {change} the number of breaks to look among would be {total}.", ""),
    "too-few-licks": (
        "Phrases {phrases} have too few licks between them ({licks}), so some lick comes twice.",
        "Allow a lick twice, ask for less else, or send in licks for those phrases.",
    ),
    "melody-too-much": (
        "No break recalls more than {percent} % of the melody; phrase {phrase} recalls least.",
        "Ask for no more than that, or send in a lick for that phrase that is closer to the tune.",
    ),
    "differs-too-much": (
        "No break differs from each of the last ones in more phrases than {most}.",
        "Ask for no more than that.",
    ),
    "fits-nowhere": (
        "Lick {lick} fits no phrase of {tune}, or what else you ask leaves it out.",
        "Leave it out of must_include, or ask for less.",
    ),
    "too-many-included": ("A wish may insist on {most} licks at most.", "Name fewer."),
    "no-such-phrase": ("There is no phrase {phrase}.", "Count from 1 to {phrases}, repeats written out."),
    "not-for-this-phrase": (
        "The lick is not as long as phrase {phrase}. Measures of the lick: {lick_measures} of {lick_meter}; of the phrase: {measures} of {meter}.",
        "Choose a phrase of its length and meter.",
    ),
    "tune-and-phrase": ("A tune without a phrase, or a phrase without a tune.", "Give both, or neither."),
    "not-neighbours": (
        "Lick {before} and lick {lick} are for different instruments, tunings or meters.",
        "Choose two that one player can play in one tune.",
    ),
    "no-such-number": (
        "There are {total} breaks; {number} is none of them.",
        "Ask for a number from 1 to {total}.",
    ),
    "stale-snapshot": (
        "The pool has changed since that number was given.",
        "Use the break's code, {break_code}, or ask for a new break.",
    ),
    "unknown-snapshot": (
        "The pool is not, or no longer, in the state {snapshot}.",
        "Ask for the count again: the present state is {present}.",
    ),
}
