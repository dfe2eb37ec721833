"""Tunes out of files that hold several: a book of which one tune cannot be read, a MIDI file with several tracks."""

import io

import mido

from bot.book import Sent
from bot.replies import Call, Reply
from tests.bot.asking import GROUP, Asking

BOOK = """X:1
T:Slip at the Weir
M:2/4
L:1/8
K:D
D2 §2|

X:2
T:Lantern on the Sill
M:2/4
L:1/8
K:D
D2 F2|A4|F2 E2|D4|

X:3
M:2/4
K:Qq
D4|
"""
MELODY, BASS = (74, 76, 78, 79, 81, 79, 78, 76), (50, 45, 50, 45, 50, 45, 50, 50)


def midi_file(**tracks: tuple[int, ...]) -> bytes:
    """A track for each name, of quarters."""
    file, out = mido.MidiFile(ticks_per_beat=480), io.BytesIO()
    for name, pitches in tracks.items():
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=name)])
        for pitch in pitches:
            track.append(mido.Message("note_on", note=pitch, velocity=80))
            track.append(mido.Message("note_off", note=pitch, time=480))
        file.tracks.append(track)
    file.save(file=out)
    return out.getvalue()


def _brought(asking: Asking, file: str, data: bytes, **given: str) -> Reply:
    async def read() -> bytes:
        return data

    files = {"file": Sent(file, len(data), "application/octet-stream", read)}
    reply = asking.call("kit", Call("tune bring", {"file": file, **given}), files)
    assert isinstance(reply, Reply)
    return reply


def test_of_a_book_the_first_tune_that_can_be_read_comes_in_and_the_others_are_told(asking: Asking) -> None:
    reply = _brought(asking, "book.abc", BOOK.encode())
    assert reply.head.startswith("Lantern on the Sill · key of D")
    assert reply.notes[1:4] == (
        "The file has 3 tunes.",
        "Tune 1 (Slip at the Weir) cannot be read. Line 6, column 4: “§2” means nothing in ABC notation here. "
        'Write note letters C-B, c-b with lengths, as in G2 B2 d4; | between measures; chords as "G".',
        "Tune 3 cannot be read. Line 17, column 3: Qq is no key. "
        "Write K: with a capital letter and a mode, as in K:G, K:Em, K:Ador, K:Dmix, or K:none.",
    )


def test_a_tune_of_a_book_that_is_asked_for_and_cannot_be_read_says_where(asking: Asking) -> None:
    refused = _brought(asking, "book.abc", BOOK.encode(), which="1")
    assert (refused.failed, refused.head) == (True, "Tune 1 (Slip at the Weir) cannot be read.")
    assert refused.notes[0].startswith("Line 6, column 4: ")
    beyond = _brought(asking, "book.abc", BOOK.encode(), which="4")
    assert beyond.head == "The file has 3 tunes: give one of these numbers as which."
    assert not _brought(asking, "book.abc", BOOK.encode(), which="2").failed


def test_of_many_tunes_that_cannot_be_read_the_first_few_are_told(asking: Asking) -> None:
    slips = "".join(f"X:{number}\nT:Slip\nM:2/4\nK:D\n§|\n\n" for number in range(4, 10))
    reply = _brought(asking, "book.abc", (BOOK + "\n" + slips).encode())
    assert sum(" cannot be read. Line " in note for note in reply.notes) == 3
    assert "More tunes that cannot be read: 5." in reply.notes


def test_the_service_tells_both_tunes_that_are_read_and_tunes_that_are_not(asking: Asking) -> None:
    told = asking.service.member.post(f"{GROUP}/tunes/files", content=BOOK.encode()).json()
    assert [(one["number"], one["name"]) for one in told["items"]] == [(2, "Lantern on the Sill")]
    assert [(one["number"], one["name"], one["at"][0]["line"]) for one in told["not_read"]] == [
        (1, "Slip at the Weir", 6),
        (3, "", 17),
    ]
    bad = BOOK[: BOOK.index("X:2")]
    refused = asking.service.member.post(f"{GROUP}/tunes/files", content=bad.encode())
    assert (refused.status_code, refused.json()["code"]) == (422, "unreadable")


def test_another_track_of_a_midi_file_is_asked_for_by_its_number(asking: Asking) -> None:
    data = midi_file(lead=MELODY, bass=BASS)
    reply = _brought(asking, "jam.mid", data, name="Jam")
    at = reply.notes.index("The melody was read from track 1 (lead). Other tracks with notes: 2 (bass).")
    assert reply.notes[at + 1] == "Another track by its number: track=2."
    other = _brought(asking, "jam.mid", data, name="Jam low", track="2")
    assert "The melody was read from track 2 (bass). Other tracks with notes: 1 (lead)." in other.notes
    melody = asking.service.member.get(f"{GROUP}/tunes/jam-low").json()["melody"]
    assert melody.startswith("A: | D,2 A,,2 D,2 A,,2 |")


def test_a_track_that_is_not_there_or_of_no_midi_file_is_refused(asking: Asking) -> None:
    refused = _brought(asking, "jam.mid", midi_file(lead=MELODY, bass=BASS), track="3")
    assert (refused.failed, refused.notes) == (
        True,
        ("There is no track 3 with notes. Tracks with notes: 1 (lead), 2 (bass).",),
    )
    assert _brought(asking, "book.abc", BOOK.encode(), track="1").head == (
        "This file has no tracks to choose from. Ask for a track of a MIDI file alone."
    )


def test_the_other_tunes_of_a_book_are_named_by_their_numbers(asking: Asking) -> None:
    three = "\n".join(f"X:{n}\nT:Sill {n}\nM:2/2\nL:1/8\nK:D\n|: d2f2 a2f2 | d8 :|\n" for n in (1, 2, 3))
    reply = _brought(asking, "book.abc", three.encode(), which="2")
    assert reply.notes[1:3] == ("The file has 3 tunes.", "Another one by its number, as which: 1, 3.")


def test_a_tune_without_a_title_is_called_as_its_file(asking: Asking) -> None:
    untitled = "X:1\nM:2/2\nL:1/8\nK:D\n|: d2f2 a2f2 | d8 :|\n"
    assert _brought(asking, "fen_gate.abc", untitled.encode()).head.startswith("Fen gate · key of D")
    again = _brought(asking, "fen_gate.abc", untitled.encode())
    assert again.failed
    assert again.head.startswith("There is a tune called Fen gate already.")
