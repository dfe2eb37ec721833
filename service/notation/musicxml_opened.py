"""Opens a MusicXML file from anywhere, plain or compressed, as a tree that is no deeper and larger than a tune is.

Nothing in it is believed: no entity is expanded, nothing outside is fetched, and of a compressed file no more is unpacked than
a plain one may hold.
"""

import io
import re
import zipfile
import zlib
from fractions import Fraction
from xml.etree.ElementTree import Element, ParseError, TreeBuilder

from defusedxml.common import DefusedXmlException  # type: ignore[import-untyped]
from defusedxml.ElementTree import DefusedXMLParser  # type: ignore[import-untyped]

from service.errors import Fault, ReadingError
from service.notation.clean import words

# All ours: a tune of two pages takes some 100 KB and eight levels; a compressed one has two or three files.
MAX_KB = 1000
MAX_DEPTH = 40
MAX_ENTRIES = 100
_TOLD = 40  # characters of a part's name
_ZIP = b"PK\x03\x04"
_CONTAINER = "META-INF/container.xml"  # published, MusicXML 4.0: it names the file that is the score
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
# longer numbers than these are in no tune, and take their time
_NUMBER = re.compile(r"[+-]?[0-9]{1,9}(\.[0-9]{1,6})?")


class _TooDeep(Exception):
    """Elements lie in each other beyond MAX_DEPTH."""


class _Bounded(TreeBuilder):
    """Makes the tree; stops where it gets too deep."""

    def __init__(self) -> None:
        super().__init__()
        self._depth = 0

    def start(self, tag: str, attrs: dict[str, str], /) -> Element:
        self._depth += 1
        if self._depth > MAX_DEPTH:
            raise _TooDeep
        return super().start(tag, attrs)

    def end(self, tag: str, /) -> Element:
        self._depth -= 1
        return super().end(tag)


def opened(data: bytes) -> Element:
    """The root of a file's tree, whatever it is called. Raises ReadingError, with line and column where the XML is at fault."""
    if len(data) > MAX_KB * 1000:
        raise ReadingError([Fault("tune-file-too-large", {"most": MAX_KB})])
    return _tree(_unpacked(data) if data.startswith(_ZIP) else data)


def may_be_musicxml(data: bytes) -> bool:
    """By what it begins with: XML in any encoding, or what is packed."""
    plain = data.removeprefix(b"\xef\xbb\xbf")
    return plain.startswith((_ZIP, b"\xfe\xff", b"\xff\xfe")) or plain.lstrip()[:1] == b"<"


def opened_score(data: bytes) -> Element:
    """The root of a score that is written part by part. Raises ReadingError."""
    root = opened(data)
    if root.tag == "score-timewise":
        raise ReadingError([Fault("score-timewise")])
    if root.tag != "score-partwise":
        raise ReadingError([Fault("not-musicxml")])
    return root


def title_of(root: Element) -> str:
    """Of the work, else of the movement; empty where neither has one."""
    return words(root.findtext("work/work-title")) or words(root.findtext("movement-title"))


def part_names(root: Element) -> dict[str, str]:
    """Names of the parts by their ids."""
    return {
        score_part.get("id", ""): words(score_part.findtext("part-name"), _TOLD)
        or score_part.get("id", "")[:_TOLD]
        for score_part in root.iter("score-part")
    }


def number(text: str | None) -> Fraction | None:
    """A number as elements hold it; None if it is none."""
    text = (text or "").strip()
    return Fraction(text) if _NUMBER.fullmatch(text) else None


def _tree(text: bytes) -> Element:
    parser = DefusedXMLParser(target=_Bounded())  # a DOCTYPE is let be: the standard asks for one
    try:
        parser.feed(text)
        root = parser.close()
    except ParseError as error:
        line, column = error.position
        raise ReadingError([Fault("xml-not-well-formed", line=line, column=column + 1)]) from None
    except DefusedXmlException:
        raise ReadingError([Fault("xml-entities")]) from None
    except _TooDeep:
        raise ReadingError([Fault("xml-too-deep", {"most": MAX_DEPTH})]) from None
    except (ValueError, LookupError):  # an encoding that is not known
        raise ReadingError([Fault("xml-encoding")]) from None
    if not isinstance(root, Element):
        raise ReadingError([Fault("not-musicxml")])
    return root


def _unpacked(data: bytes) -> bytes:
    """The score in a compressed file."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if len(packed.infolist()) > MAX_ENTRIES:
                raise ReadingError([Fault("mxl-not-unpacked")])
            container = _tree(_entry(packed, _CONTAINER))
            paths = [e.get("full-path", "") for e in container.iter() if e.tag.endswith("rootfile")]
            return _entry(packed, paths[0] if paths else "")
    except (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, NotImplementedError, RuntimeError,
            ValueError, KeyError, EOFError, OSError):  # fmt: skip
        raise ReadingError([Fault("mxl-not-unpacked")]) from None


def _entry(packed: zipfile.ZipFile, path: str) -> bytes:
    entry = packed.getinfo(path)
    if entry.compress_type not in _METHODS:
        raise zipfile.BadZipFile
    with packed.open(entry) as file:
        content = file.read(MAX_KB * 1000 + 1)  # the size that it tells is not believed
    if len(content) > MAX_KB * 1000:
        raise ReadingError([Fault("tune-file-too-large", {"most": MAX_KB})])
    return content
