"""What a teacher says of licks, joins and breaks."""

# code: (what is the matter, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    # why, in a break
    "pickup-replaces": (
        "The pickup of lick {lick} takes the end of lick {before}, in eighths: {eighths}.",
        "",
    ),
    "fit-share": ("{percent} % of what counts is at home in its chords.", ""),
    # what a teacher says of a lick
    "does-not-fit": (
        "Only {percent} % of what counts is at home in these chords.",
        "Check the chords, or give the lick chords that it was made over.",
    ),
    "foreign": (
        "Measure {measure}, count {beat}: {note} is foreign to {chord}.",
        "Play {mend} there, or let it lead a semitone on to the next note.",
    ),
    "held-against": (
        "Measure {measure}, count {beat}: {note} is held against {chord}.",
        "Play {mend} there, or go on from it within a beat.",
    ),
    "blue-held": (
        "Measure {measure}, count {beat}: the flat third {note} stands over {chord}.",
        "Let it go on to {mend} or fall within a beat.",
    ),
    "change-not-heard": (
        "Measure {measure}: nothing tells the ear that the chord is {chord}.",
        "Fret one of its tones ({tones}) on the first or the middle beat.",
    ),
    "finger-hops": (
        "Measure {measure}, count {beat}: the {finger} finger hops from string {string} to string {to_string}.",
        "Hold a shape in which each string has a finger of its own.",
    ),
    "same-finger": (
        "Measure {measure}, count {beat}: finger {finger} is due on two neighbouring eighths.",
        "Take another string for one of them, or leave one out.",
    ),
    "jump-without-air": (
        "Measure {measure}, count {beat}: the hand jumps {frets} frets, from {from} to {to}, with nothing between.",
        "Put an open string, a rest or a slide between, or play it slower than {unit} = {from_bpm}.",
    ),
    "tag-does-not-land": (
        "The tag never puts {tonic} on beat 1.",
        "Let it come home: {tonic} on the first beat of one of its measures.",
    ),
    "tag-without-air": (
        "Measure {measure}, count {beat}: the tag plays on to its end.",
        "Leave its last two eighths empty, so that a pickup can enter.",
    ),
    "too-empty": (
        "Too little begins to sound, mutes and pickup aside. Notes: {notes}, measures: {measures}.",
        "Let at least one note a measure sound, or make it shorter.",
    ),
    "free-of-the-melody": (
        "It is free: it keeps {kept} of the {strong} melody notes on strong places.",
        "",
    ),
    "cannot-be-stopped": (
        "Measure {measure}, count {beat}: no hand stops string {string} at fret {fret} and string {to_string} at fret {to_fret} at once.",
        "Leave one of them out, or bring them closer together.",
    ),
    "too-many-to-stop": (
        "Measure {measure}, count {beat}: no hand stops {count} strings like that at once.",
        "Leave some of them out.",
    ),
    "too-fast": (
        "Comfortable up to {unit} = {top}; {unit} = {bpm} is beyond it.",
        "Play it slower, or take an easier version.",
    ),
    "no-tempo": (
        "No hand plays it faster than {unit} = {top}.",
        "Leave notes out where it is thickest.",
    ),
    "hurts": ("A note of it hurts over these chords.", ""),
    "twin": ("This is lick {lick}.", "Change it, or use lick {lick}."),
    "twin-taken-down": (
        "This is lick {lick}, which was taken down.",
        "Change it, or ask an organiser whether it may be used.",
    ),
    "twin-elsewhere": ("This is lick {lick} at other places on the neck.", ""),
    "twin-played-otherwise": ("This is the line of lick {lick}, played in another way.", ""),
    "twin-for-another-place": ("This is lick {lick}, meant for another place in a tune.", ""),
    "twin-moved": ("This is lick {lick}, moved. Semitones: {moved}.", ""),
    "level-differs": ("It was sent in as level {given}; it is judged level {level} at {unit} = {bpm}.", ""),
    "near-twin": ("This is lick {lick}, changed in measure {measures}. Notes changed: {changed}.", ""),
    "near-twin-moved": (
        "This is lick {lick}, moved and changed in measure {measures}. Semitones: {moved}, notes changed: {changed}.",
        "",
    ),
    "cannot-move": (
        "The lick cannot be moved there: measure {measure} finds no place on the neck that a hand can play.",
        "Move it elsewhere, or write it anew for that place.",
    ),
    "move-to-what": (
        "It must be clear where to move it.",
        "Give exactly one of chord, key, semitones and steps, or an instrument or tuning (with a hand style, if you like).",
    ),
    "other-mode": (
        "A lick in {own} does not become one in {key} by moving.",
        "Move it to a key of the same mode, or to a chord.",
    ),
    "no-chord-to-move": (
        "There is no chord to move from or to.",
        "Give semitones or a key, or a chord such as C or Em.",
    ),
    # hands, level, melody, role
    "top-tempo": ("Comfortable up to {unit} = {bpm}.", ""),
    "no-hand": ("No hand can play it as it is written.", ""),
    "limit-hop": (
        "Measure {measure}, count {beat}: the {finger} finger goes from string {string} to string {to_string}.",
        "",
    ),
    "limit-move": ("Measure {measure}, count {beat}: the {finger} finger moves along string {string}.", ""),
    "limit-shift": (
        "Measure {measure}, count {beat}: the hand moves, its index from fret {from} to fret {to}.",
        "",
    ),
    "limit-stretch": ("Measure {measure}, count {beat}: a stretch.", ""),
    "limit-slide": ("Measure {measure}, count {beat}: a slide in little time.", ""),
    "limit-hammer-on": ("Measure {measure}, count {beat}: a hammer-on in little time.", ""),
    "limit-pull-off": ("Measure {measure}, count {beat}: a pull-off in little time.", ""),
    "limit-barre": ("Measure {measure}, count {beat}: a finger laid over several strings.", ""),
    "limit-same-finger": ("Measure {measure}, count {beat}: finger {finger} picks again soon.", ""),
    "limit-same-way": ("Measure {measure}, count {beat}: two strokes in the same direction.", ""),
    "limit-string-skip": ("Measure {measure}, count {beat}: the pick skips a string.", ""),
    "level": ("Level {level} at {unit} = {bpm}.", ""),
    "harder-fretted": ("Fretted notes.", ""),
    "harder-notes": ("Many notes.", ""),
    "harder-links": ("Hammer-ons, pull-offs, slides or chokes.", ""),
    "harder-fine": ("Notes faster than the roll.", ""),
    "harder-syncopation": ("Syncopation.", ""),
    "harder-neck": ("Up the neck.", ""),
    "harder-span": ("It uses much of the neck.", ""),
    "harder-uncommon": ("Notes outside the key.", ""),
    "harder-pickup": ("A pickup.", ""),
    "harder-melodic": ("Melodic style.", ""),
    "harder-single-string": ("Single-string style.", ""),
    "harder-crosspick": ("Cross-picking.", ""),
    "harder-strain": ("Close to the comfortable tempo or beyond it.", ""),
    "melody-share": (
        "It recalls {percent} % of the melody, {kept} of {strong} notes on strong places.",
        "",
    ),
    "no-melody": ("The tune has no melody here to compare it with.", ""),
    "role-agrees": ("Its role, {role}, is what the phrase asks for.", ""),
    "role-free": ("It has no role of its own; the phrase asks for: {role}.", ""),
    "role-differs": ("Its role is {role}; the phrase asks for: {wished}.", ""),
    "seems": ("Its role seems to be: {role}.", ""),
    # easier versions
    "without-ornaments": ("Ornaments left out.", ""),
    "offbeats-open": ("Offbeat fretted notes opened.", ""),
    "on-the-beat": ("Syncopation put back on the beat.", ""),
    "thinned": ("Offbeats left out.", ""),
    "moved-shifted": ("The same shapes, moved along the neck.", ""),
    "moved-octave": ("It lies an octave away from where it was.", ""),
    "moved-placed": ("Placed anew; {kept} of {notes} notes keep their string.", ""),
    # joins
    "seam-easy": ("An easy join.", ""),
    "seam-too-fast": (
        "The hands need more time at this join than there is at that tempo.",
        "Leave out the last eighth before it, or play it slower.",
    ),
    "seam-travel": (
        "The left hand travels from fret {from} to fret {to}. Eighths it has for that: {slots}.",
        "",
    ),
    "seam-same-finger": (
        "Finger {finger} is due on both sides of the seam.",
        "Leave out the last eighth before it.",
    ),
    "seam-jump": (
        "The hand jumps {frets} frets, from {from} to {to}, with nothing between.",
        "Put an open string or a rest between.",
    ),
    "seam-same-string": ("String {string} is picked again at once.", ""),
    "seam-leap": ("A leap of {semitones} semitones.", ""),
    "seam-resolves": ("The line goes on by step into {chord}.", ""),
}
