"""Chord symbols of MusicXML as the chords that the house knows."""

from xml.etree.ElementTree import Element

from service.errors import Fault
from service.music.harmony import Chord
from service.music.pitch import fifths, sane_spelling
from service.notation.clean import words
from service.notation.musicxml_marks import KINDS
from service.notation.musicxml_opened import number
from service.notation.spelling import alteration

_NO_CHORD = "none"
_SHARP = 7  # places on the line of fifths
_MOST_ALTERED = 2  # double sharps and flats: more no chord name has
# A kind with its degrees (value, alteration), each as the house's quality; what it writes, and other ways to say the same.
_QUALITIES = {(kind, frozenset(degrees)): quality for quality, (kind, degrees) in KINDS.items()} | {
    ("suspended-fourth", frozenset({(7, -1)})): "7sus4",
    ("dominant", frozenset({(4, 0)})): "7sus4",
    ("dominant", frozenset({(5, 1)})): "7#5",
    ("minor-seventh", frozenset({(5, -1)})): "m7b5",
    ("major-sixth", frozenset({(2, 0)})): "69",
    ("major", frozenset({(2, 0)})): "add9",
    ("minor", frozenset({(2, 0)})): "madd9",
}
_MINOR = ("minor", "diminished", "half-diminished")  # how kinds with a minor third begin


def chord_of(harmony: Element, moved: int = 0) -> tuple[Chord | None, str | None]:
    """The chord, and the code of a remark where it is not all that stands there; ``moved`` is what a part's transposition adds on
    the line of fifths.

    None is N.C., or, with the code ``tune-chord-unread``, a symbol without a root letter, such as a Roman numeral. A kind that is
    not known gives its plain triad and the code ``tune-chord-plain``.
    """
    kind = (harmony.findtext("kind") or "").strip()
    if kind == _NO_CHORD:
        return None, None
    root = _tone(harmony, "root")
    if root is None:
        return None, "tune-chord-unread"
    bass = _tone(harmony, "bass")
    degrees = frozenset(_degree(element) for element in harmony.iter("degree"))
    quality = _QUALITIES.get((kind, degrees))
    code = None if quality is not None else "tune-chord-plain"
    if quality is None:
        quality = _QUALITIES.get((kind, frozenset()), "m" if kind.startswith(_MINOR) else "")
    return Chord(
        _near(root + moved), quality, None if bass is None or bass == root else _near(bass + moved)
    ), code


def remark_on(code: str, harmony: Element, chord: Chord | None, measure: int) -> Fault:
    """``code`` said of a chord symbol."""
    kind = harmony.find("kind")
    told = "" if kind is None else kind.get("text") or kind.text
    return Fault(code, {"kind": words(told, 40), "chord": chord.name if chord else ""}, measure=measure)


def _tone(harmony: Element, name: str) -> int | None:
    """``root`` or ``bass`` as a place on the line of fifths."""
    step = (harmony.findtext(f"{name}/{name}-step") or "").strip()
    alter = number(harmony.findtext(f"{name}/{name}-alter") or "0")
    if len(step) != 1 or step not in "ABCDEFG" or alter is None or abs(alter) > _MOST_ALTERED:
        return None
    return fifths(step) + _SHARP * round(alter)


def _near(place: int) -> int:
    """The same tone, under a name with no more signs than chord names have."""
    return place if abs(alteration(place)) <= _MOST_ALTERED else sane_spelling(place)


def _degree(degree: Element) -> tuple[int, int]:
    value, alter = number(degree.findtext("degree-value")), number(degree.findtext("degree-alter") or "0")
    return round(value or 0), round(alter or 0)
