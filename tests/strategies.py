"""Generated music: passages that a tab can hold, for round-trip tests."""

from hypothesis import strategies as st

from service.music.fretboard import Fretboard
from service.music.harmony import chord_named
from service.music.instruments import Instrument, all_instruments
from service.music.licks import Change, Note
from service.music.meter import METER_NAMES, Meter, meter_named
from service.music.passages import Passage, lasting
from service.music.tunes import merged

CHORDS = ("G", "C", "D7", "Em", "Bb", "F#m7b5", "C/E", "N.C.", "Am7")
RIGHT_HAND = ("T", "I", "M")


def _beat_onsets(slot: int) -> st.SearchStrategy[tuple[int, ...]]:
    """Onsets within two slots: quarters, eighths, sixteenths or triplets."""
    pair = 2 * slot
    return st.sampled_from([1, 2, 2, 2, 4, 3, 6]).flatmap(
        lambda parts: st.sets(st.integers(0, parts - 1), max_size=parts).map(
            lambda chosen: tuple(sorted(n * pair // parts for n in chosen))
        )
    )


@st.composite
def passages(draw: st.DrawFn, fingers: bool = True) -> Passage:
    instrument: Instrument = draw(st.sampled_from(all_instruments()))
    tuning = draw(st.sampled_from(instrument.tunings))
    meter: Meter = meter_named(draw(st.sampled_from(METER_NAMES)))
    capo = draw(st.sampled_from([0, 0, 2]))
    board = Fretboard(instrument, tuning, capo)
    measures = draw(
        st.lists(st.sampled_from([meter.measure_ticks] * 5 + [meter.slot_ticks * 4]), min_size=1, max_size=4)
    )
    pickup_slots = draw(st.sampled_from([0, 0, 0, 1, 2, 3]))
    end = sum(measures)
    onsets: list[int] = []
    bars = [sum(measures[:n]) for n in range(1, len(measures) + 1)]
    at = 0
    for bar in bars:
        while at < bar:
            onsets.extend(at + o for o in draw(_beat_onsets(meter.slot_ticks)) if at + o < bar)
            at = min(bar, at + 2 * meter.slot_ticks)  # the last of nine slots stands alone
    if pickup_slots:
        onsets.append(-pickup_slots * meter.slot_ticks)
        onsets.extend(-n * meter.slot_ticks for n in range(1, pickup_slots) if draw(st.booleans()))
    if not onsets:
        onsets = [0]
    notes: list[Note] = []
    last: dict[int, int] = {}
    for onset in sorted(onsets):
        strings = draw(
            st.sets(
                st.integers(1, instrument.strings), min_size=1, max_size=draw(st.sampled_from([1, 1, 1, 2]))
            )
        )
        plucked: list[Note] = []
        for string in strings:
            fret = draw(
                st.sampled_from([0, 0, 0, 2, 3, 5, 7, 10, 12]).filter(
                    lambda f, s=string: board.refuses(s, f) is None
                )
            )
            technique = draw(
                st.sampled_from([None, None, None, None, "link", "choke", "ghost", "mute", "tie"])
            )
            if technique == "link":
                before = last.get(string)
                technique = (
                    "slide"
                    if before is None or before == fret
                    else draw(st.sampled_from(["slide", "hammer-on" if fret > before else "pull-off"]))
                )
            if technique == "tie":
                if string in last:
                    fret = last[string]
                else:
                    technique = None
            if technique == "mute":
                fret = 0
            last[string] = fret
            plucked.append(Note(onset, string, fret, 0, technique))
        if (
            fingers
            and len(plucked) == 1
            and plucked[0].technique not in ("slide", "hammer-on", "pull-off", "tie")
        ):
            finger = draw(st.sampled_from([None, *RIGHT_HAND]))
            plucked = [Note(onset, plucked[0].string, plucked[0].fret, 0, plucked[0].technique, finger)]
        notes.extend(plucked)
    starts = [sum(measures[:n]) for n in range(len(measures))]
    changes = [Change(0, chord_named(draw(st.sampled_from(CHORDS))))]
    changes += [
        Change(start, chord_named(draw(st.sampled_from(CHORDS))))
        for start in starts[1:]
        if draw(st.booleans())
    ]
    short = instrument.short_string
    stop = draw(st.sampled_from([None, None, tuning.pitches[short[0] - 1] + 3])) if short else None
    return Passage(
        instrument,
        tuning,
        meter,
        tuple(measures),
        lasting(notes, starts, end),
        merged(changes),
        capo,
        stop,
    )
