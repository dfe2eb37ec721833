"""What is said of a tune that comes in, of the positions to play it in, and of its arrangement."""

# code: (what is the matter, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    "melody-line-mark": (
        "“{mark}” has no meaning in a melody.",
        "Use note letters, numbers, - and . and , as in: g2 a b c2 b a, and ^f or f# for a sharp, _b for a flat.",
    ),
    "melody-two-signs": (
        "“{note}” has a sign before its letter and one behind it.",
        "Write one of them: ^f, _e, =f.",
    ),
    "melody-flat-or-note": (
        "“{word}” can be one note, flat, or two notes.",
        "Write {flat} for the flat, or {notes} for the two notes.",
    ),
    "melody-line-note": (
        "“{note}” is no note that can be played.",
        "Leave < or > out, and give it a length of 1 or more.",
    ),
    "melody-line-hold": ("There is no note to hold on before this -.", "Write . for a rest."),
    "melody-line-length": (
        "Measure {measure} has {slots} slots, and {expected} make it full.",
        "End a measure that is short on purpose, or a pickup, with ; instead of a comma.",
    ),
    "measure-squared": ("Part {part}, measure {measure}: its length was cut to whole beats of the roll.", ""),
    "nothing-to-arrange": ("{tune} has no melody yet.", "Give one, as in A: | D2 G2 B3 A | G2 E2 D4 |."),
    "no-tune-file": (
        "That is no file of tunes.",
        "Send ABC notation, MusicXML (.musicxml, .mxl) or MIDI (.mid).",
    ),
    "no-such-level": ("There is no level {level} of plain breaks.", "Use 1 to {most}."),
    "no-such-plain-style": ("There is no plain break in the style {style} here.", "Use one of {known}."),
    "melody-moved-down": ("The melody lies an octave lower than written, in the hand's reach.", ""),
    "melody-moved-up": ("The melody lies an octave higher than written, in the hand's reach.", ""),
    "melody-evened": (
        "Dotted pairs and triplets are played as even notes; the tune stays as it is written.",
        "",
    ),
    "melody-kept-share": ("It recalls {percent} % of the melody.", ""),
    "arranged-top": ("Phrase {phrase} is the first to get tight, comfortable up to {unit} = {top}.", ""),
    "left-out-between": (
        "Measure {measure}: {tones} left out, which come between the beats of the roll.",
        "",
    ),
    "left-out-room": (
        "Measure {measure}: {tones} left out, for want of a free finger or a place near by.",
        "",
    ),
    "left-out-air": ("Measure {measure}: {tones} left out, so that the end has air for the next pickup.", ""),
    "left-out-folded": ("Measure {measure}: {tones} played an octave off, to lie in reach.", ""),
    "left-out-pickup": ("Of the pickup {tones} left out or an octave off.", ""),
    "setting-low": ("{percent} % of the melody lies on open strings and in the first position.", ""),
    "setting-open-shapes": ("All its chords have open shapes.", ""),
    "setting-hard-shapes": ("Chords held with a barre or up the neck: {chords}.", ""),
    "setting-capo": ("The capo goes to fret {fret}.", ""),
    "setting-fifth": ("The fifth string is stopped at fret {fret}.", ""),
    "proposed-moved": ("Lick {lick}, {name}, moved from {from} to {to}.", ""),
    "proposed-arranged": ("The tune's melody as a plain break of level {plain} has it.", ""),
    "proposed-melodic": ("The tune's melody in melodic style.", ""),
    "proposed-forward-roll": ("The tune's melody in forward rolls.", ""),
    "proposed-backward-roll": ("The tune's melody in backward rolls.", ""),
    "proposed-forward-reverse-roll": ("The tune's melody in forward-reverse rolls.", ""),
    "proposed-alternating-thumb-roll": ("The tune's melody in alternating-thumb rolls.", ""),
    "proposed-crosspicked": ("The tune's melody crosspicked, with notes of the chords between.", ""),
    "proposed-up-the-neck": ("The tune's melody an octave higher, up the neck.", ""),
    "proposed-down-low": ("The tune's melody an octave lower.", ""),
    "proposed-run-up": ("A run along the scale rises into the tune's melody.", ""),
    "proposed-run-down": ("A run along the scale falls into the tune's melody.", ""),
    "proposed-step-higher": ("A sequence: its first half comes again a step higher.", ""),
    "proposed-step-lower": ("A sequence: its first half comes again a step lower.", ""),
    "proposed-third-higher": ("A sequence: its first half comes again a third higher.", ""),
    "proposed-third-lower": ("A sequence: its first half comes again a third lower.", ""),
    "no-such-proposal": (
        "That proposal is no more: the pool or the tune has changed.",
        "Ask for proposals again.",
    ),
}
