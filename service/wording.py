"""Every sentence the service shows to people, by code: what is the matter, and what to do about it.

The English text is the gettext message id, so a catalogue under service/locale/<language>/LC_MESSAGES/
translates a sentence without touching this file.
"""

import gettext
from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from string import Formatter

from service.errors import BreakwrightError, Fault

LOCALE_FOLDER = Path(__file__).parent / "locale"

# code: (what is the matter, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    # reading tab
    "unreadable": (
        "The text cannot be read: {count} place(s) need mending.",
        "See each place for what to type instead.",
    ),
    "text-too-long": ("The text is longer than {most} characters.", "Send it in parts."),
    "no-tab": (
        "There are no tab rows here.",
        "Write {strings} rows of dashes and frets, one for each string, the top row string 1; or one line such as 32514251.",
    ),
    "wrong-row-count": (
        "{rows} rows stand together here, but a {instrument} has {strings} strings.",
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
        "Two-digit frets or marks pushed {columns} column(s) along in this measure; the notes were put back on the beat.",
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
        "Use . to let a chord go on, as in G . . D.",
    ),
    "chart-chord": (
        "“{word}” is no chord.",
        "Chords look like G, Em, D7, F#m7b5, C/E, N.C., or 1 4 5 when the key is known.",
    ),
    "chart-empty": ("The chart has no measures.", "Write | G | C | D | G |, with A: before a part."),
    "chart-order": (
        "The order names part {part}, which is not in the chart ({known}).",
        "Use the chart's own part names.",
    ),
    "melody-mark": (
        "“{mark}” means nothing in a melody.",
        "Write note letters C-B, c-b with lengths, as in G2 B2 d4, and | between measures.",
    ),
    "melody-length": (
        "Measure {measure} of part {part} lasts {ticks} ticks in the melody and {expected} in the chart.",
        "Make each melody measure as long as its chart measure.",
    ),
    "melody-part": (
        "The melody has a part {part} that is not in the chart ({known}).",
        "Use the chart's own part names.",
    ),
    # music
    "unknown-meter": ("“{name}” is no meter known here.", "Use one of {known}."),
    "unknown-tone": ("“{name}” is no tone.", "Use a letter A-G with # or b."),
    "unknown-key": ("“{name}” is no key.", "Write G, Em, Bb, F# minor."),
    "unknown-chord": ("“{name}” is no chord.", "Chords look like G, Em, D7, Bb, F#m7b5, C/E or N.C."),
    "unknown-instrument": ("“{name}” is no instrument known here.", "Use one of {known}."),
    "unknown-tuning": ("“{name}” is no tuning of the {instrument} known here.", "Use one of {known}."),
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
    "bad-lick": ("The lick does not hold together: {count} thing(s) to mend.", "See each place."),
    "empty-lick": ("The lick has no notes.", "Write at least one fret."),
    "no-measures": ("The lick has no whole measure.", "Write at least one measure after the pickup."),
    "wrong-hand-style": ("“{hand_style}” is no hand style of this instrument.", "Use one of {known}."),
    "wrong-style": ("“{style}” is no style of this hand style.", "Use one of {known}."),
    "not-writable": (
        "The lick cannot be written out so that it reads back the same.",
        "Keep measures to whole steps and rhythms to sixteenths and triplets.",
    ),
    "pickup-too-long": (
        "The pickup lasts {eighths} eighths.",
        "Use at most {most}: it takes the place of the end of the lick before.",
    ),
    "no-chords": ("The chords do not begin with the first measure.", "Write them as | G | C D |."),
    "chords-past-the-end": (
        "The chords go on after the last of {measures} measures.",
        "Give as many measures of chords as the lick has.",
    ),
    "chords-length": (
        "The chords make {chords} ticks, the lick {lick}.",
        "Give as many measures of chords as the lick has.",
    ),
    "bad-tune": ("The tune does not hold together: {count} thing(s) to mend.", "See each place."),
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
    # the service
    "no-token": (
        "This needs a token.",
        "Send it as Authorization: Bearer TOKEN; breakwright token makes one.",
    ),
    "bad-token": ("That token is not valid here.", "Ask the group's organiser for a new one."),
    "not-allowed": ("Your token may not do this ({action}).", "Ask an organiser."),
    "not-found": ("There is no such {what} here.", "Check the name or number."),
    "no-group-yet": (
        "There is no group called {name}.",
        "Make it first with POST /v1/groups, then ask for the token again.",
    ),
    "no-route": ("There is nothing at this address.", "See /schema/openapi.json for what there is."),
    "no-method": ("This address does not take that method.", "See /schema/openapi.json for what it takes."),
    "exists": (
        "There is already a {what} called {name}.",
        "Choose another name, or change the one there is.",
    ),
    "server-bound": (
        "That server belongs to another group already.",
        "Leave platform and server_id out, or use that group.",
    ),
    "unknown-style": ("“{style}” is no style.", "Use one of {known}."),
    "unsupported-type": ("The body is sent as {type}.", "Send JSON, with Content-Type: application/json."),
    "not-ready": ("The service is not ready.", "Try again in {retry_after} s."),
    "storage-trouble": (
        "The database cannot be used just now.",
        "Try again in {retry_after} s; whoever runs the service finds the cause in its log.",
    ),
    "changed": (
        "It has been changed since you read it: revision {revision} is the newest.",
        "Read it again and repeat your change.",
    ),
    "if-match-needed": (
        "An edit must say which revision it was made from.",
        "Send If-Match with the ETag you read.",
    ),
    "key-reused": ("That Idempotency-Key was used for another request.", "Use a new key for a new request."),
    "bad-key": ("An Idempotency-Key has 1 to {most} plain characters.", "Use a fresh random one."),
    "bad-request": ("The request cannot be understood: {reason}", "See the place named."),
    "bad-cursor": ("That is no cursor of this list.", "Follow the next link as it came."),
    "bad-slug": ("“{slug}” is no short name.", "Use 1 to 40 of a-z, 0-9 and -, beginning with a letter."),
    "too-large": ("The request is larger than {most} bytes.", "Send less at once."),
    "too-many-requests": ("Too many requests at once.", "Wait {retry_after} s and go on."),
    "busy": ("The service has too much to do just now.", "Try again in {retry_after} s."),
    "cannot-store": (
        "The service cannot store anything just now.",
        "Try again in {retry_after} s; whoever runs it finds the cause in its log.",
    ),
    "newer-database": (
        "The database was made by a newer release (migration {newest}, this one knows {known}).",
        "Install that release, or restore an older backup.",
    ),
    "internal": (
        "Something went wrong on our side.",
        "Try again; if it stays, tell whoever runs the service the request id {request_id}.",
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
    # why, in a break
    "pickup-replaces": ("The pickup of lick {lick} takes the last {eighths} eighth(s) of lick {before}.", ""),
    "fit-share": ("{percent} % of what counts is at home in the chord.", ""),
    "fit-hurts": ("Measure {measure}, count {beat}: {note} is foreign to {chord}.", ""),
}


@lru_cache(maxsize=16)
def _catalogue(language: str) -> gettext.NullTranslations:
    return gettext.translation("breakwright", LOCALE_FOLDER, [language], fallback=True)


def say(code: str, params: Mapping[str, object], language: str = "en") -> str:
    """The sentence for a code. Parameters that a template does not name are ignored."""
    return _filled(SENTENCES[code][0], params, language)


def advise(code: str, params: Mapping[str, object], language: str = "en") -> str | None:
    """What to do about it, if there is anything to do."""
    advice = SENTENCES[code][1]
    return _filled(advice, params, language) if advice else None


def _filled(template: str, params: Mapping[str, object], language: str) -> str:
    shown = {name: _shown(value, language) for name, value in params.items()}
    return _catalogue(language).gettext(template).format(**shown)


def _shown(value: object, language: str) -> object:
    """Parts that were assumed are sentences of their own; everything else is itself."""
    if isinstance(value, Sequence) and not isinstance(value, str):
        return "; ".join(
            say(f"assumed-{part['what']}", part, language) for part in value if isinstance(part, Mapping)
        )
    return value


@lru_cache(maxsize=1024)
def known_language(language: str) -> str:
    """The language if there is a catalogue for it, else English."""
    return language if (LOCALE_FOLDER / language).is_dir() else "en"


def said(problem: Fault | BreakwrightError, language: str = "en") -> str:
    """A fault or an error as one line: what is the matter and what to do."""
    params = told(problem)
    text = say(problem.code, params, language)
    advice = advise(problem.code, params, language)
    return f"{text} {advice}" if advice else text


def told(problem: Fault | BreakwrightError) -> dict[str, object]:
    """What a sentence may name: the parameters, and the measure of a fault."""
    if isinstance(problem, Fault):
        return {"measure": problem.measure, **problem.params}
    return problem.params


def fields(template: str) -> set[str]:
    """The parameters that a template names."""
    return {name for _, name, _, _ in Formatter().parse(template) if name}
