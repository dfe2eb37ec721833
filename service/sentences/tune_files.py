"""What is said of tunes and licks in files of music: MusicXML and MIDI."""

# code: (what is the matter, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    # opening a file
    "tune-file-too-large": ("The file is larger than {most} KB.", "Send a file with one tune or lick."),
    "xml-not-well-formed": (
        "The XML breaks off or is wrong here.",
        "Save it once more as MusicXML and send the whole file.",
    ),
    "xml-entities": (
        "The file declares entities or asks for other files, and those are not read.",
        "Save it once more as MusicXML.",
    ),
    "xml-too-deep": (
        "Elements of the file lie in each other more than {most} deep.",
        "Save it once more as MusicXML.",
    ),
    "xml-encoding": ("The encoding that the XML names is not known.", "Save the file in UTF-8."),
    "mxl-not-unpacked": (
        "The compressed MusicXML file cannot be unpacked.",
        "Save it once more, without compression, as .musicxml.",
    ),
    "not-musicxml": ("This is no MusicXML score.", "Send a file saved as .musicxml or .mxl."),
    "score-timewise": (
        "The score is written measure by measure (score-timewise).",
        "Save it part by part (score-partwise).",
    ),
    "not-midi": ("This is no MIDI file, or it breaks off.", "Send a tune saved as .mid."),
    "midi-without-beats": (
        "The MIDI file counts frames of film or runs without a clock, so it has no beats.",
        "Save it with ticks to the quarter note.",
    ),
    # reading it
    "tune-no-notes": (
        "No part has a melody: none has notes with pitches.",
        "Send a file with the melody in a part of its own.",
    ),
    "tune-number": (
        "“{text}” is no number that {element} can have in measure {measure}.",
        "Mend it, or save the file once more.",
    ),
    "tune-inexact": (
        "Measure {measure} has lengths that are no whole 480ths of a quarter note.",
        "Write it in plain values or triplets.",
    ),
    "tune-no-such-track": (
        "There is no track {track} with notes.",
        "Tracks with notes: {known}.",
    ),
    "no-tracks": (
        "This file has no tracks to choose from.",
        "Ask for a track of a MIDI file alone.",
    ),
    # what was read by inference or left out
    "tune-other-parts": ("The melody was read from {melody}. Left out: {others}.", ""),
    "tune-tracks": (
        "The melody was read from track {melody}. Other tracks with notes: {others}.",
        "Ask for another track by its number if that is not the melody.",
    ),
    "tune-crooked": ("Not as long as the meter says: measure {measures}.", "Check that it is meant so."),
    "abc-jumps": (
        "Segno, coda and da capo are passed over; the tune is read straight on.",
        "Write the order of the parts, as in P:ABA.",
    ),
    "tune-jumps": (
        "Segno, coda and da capo in measure {measure} or later were passed over; it was read straight on.",
        "Put the parts in the order they are played in.",
    ),
    "tune-chord-plain": ("The chord {kind} in measure {measure} was read as {chord}.", ""),
    "tune-chord-unread": (
        "A chord in measure {measure} has no root letter and was left out.",
        "Write chords by name.",
    ),
    "tune-key-proposed": ("The file names no key; by its notes {key} is proposed.", "Check the key."),
    "tune-mode-assumed": (
        "The file has a key signature but no mode; {key} was taken.",
        "Change the key if it is minor or another mode.",
    ),
    "tune-key-unread": ("A key in measure {measure} is no plain key signature and was left out.", ""),
    "tune-key-changes": ("The key changes in measure {measure}; the first one was kept.", ""),
    "tune-moved-notes": (
        "Notes were put on sixteenths and triplets; the farthest was moved by {percent} % of a quarter note.",
        "Check the rhythm.",
    ),
    # licks
    "lick-no-tab-staff": (
        "No staff of the file has strings and frets.",
        "Send a file with a tab staff; a tune without one can be sent as a tune.",
    ),
    "lick-strings": (
        "Strings of the tab staff: {found}. Strings of a {instrument}: {strings}.",
        "Say which instrument it is for.",
    ),
    "lick-tuning": (
        "The strings of the tab staff are tuned to {found}, from the lowest line; that is no tuning known here ({known}).",
        "State the tuning if it is one of these.",
    ),
    "lick-too-long": ("With its repeats the lick has more than {most} notes.", "Send a part of it."),
    "lick-no-string": (
        "A note in measure {measure} has no string.",
        "Put every note on a string of the tab staff.",
    ),
    "lick-no-fret": ("A note on string {string} in measure {measure} has no fret.", "Give it one."),
    "lick-off-grid": (
        "Notes in measure {measure} lie between the steps that are counted in {meter}.",
        "Write it in eighths, sixteenths or triplets.",
    ),
    "lick-measure-length": (
        "Measure {measure} lasts no whole number of steps of {meter}, or longer than four measures.",
        "Fill it up with rests, or change its time signature.",
    ),
    "lick-other-parts": ("The lick was read from {part}. Left out: {others}.", ""),
    "lick-left-out": ("Left out, first in measure {measure}: {elements}.", ""),
    "lick-pitch-apart": (
        "Notes whose pitch is not what string and fret give: {notes}, first in measure {measure}. String and fret were kept.",
        "Check the tuning and the capo.",
    ),
    "lick-moved-by-capo": (
        "Key and chords were written as they sound with the capo at {capo}; they were moved down to what the hand plays.",
        "",
    ),
}
