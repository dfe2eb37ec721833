"""What is said of tunes in files of music: MusicXML and MIDI."""

# code: (what is the matter, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    # opening a file
    "tune-file-too-large": ("The file is larger than {most} KB.", "Send one tune in a file."),
    "xml-not-well-formed": (
        "The XML breaks off or is wrong here.",
        "Save the tune once more as MusicXML and send the whole file.",
    ),
    "xml-entities": (
        "The file declares entities or asks for other files, and those are not read.",
        "Save the tune once more as MusicXML.",
    ),
    "xml-too-deep": (
        "Elements of the file lie in each other more than {most} deep.",
        "Save the tune once more as MusicXML.",
    ),
    "xml-encoding": ("The encoding that the XML names is not known.", "Save the file in UTF-8."),
    "mxl-not-unpacked": (
        "The compressed MusicXML file cannot be unpacked.",
        "Save the tune once more, without compression, as .musicxml.",
    ),
    "not-musicxml": ("This is no MusicXML score.", "Send a tune saved as .musicxml or .mxl."),
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
        "Mend it, or save the tune once more.",
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
    "tune-jumps": (
        "Segno, coda and da capo in measure {measure} or later were passed over; the tune was read straight on.",
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
}
