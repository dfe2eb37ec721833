"""Makes the README's pictures of the chat out of what the stand-in recorded of a real bot and service:

python -m tests.tools.make_chat_pictures
"""

import io
import json
import re
import tempfile
import warnings
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont
from PIL.PngImagePlugin import PngInfo

from tests.chat.corner import GROUP, Corner, running_corner
from tests.chat_platform.wire import Message
from tests.tools.make_examples import PICTURES

FONTS = Path(__file__).resolve().parents[2] / "service" / "engrave" / "fonts"
WIDE, EDGE, GAP = 780, 24, 14  # a phone of 390 points, twice
LEFT, ROOM = EDGE + 22, WIDE - 2 * (EDGE + 22)  # what stands within a message's frame
SIZE, LEADING, CELL = 28, 38, 19
INK, PALE, PAPER, FRAME = "#1d1b18", "#6d675e", "#fffdf8", "#c9bfae"
REGULAR, BOLD = (
    ImageFont.truetype(FONTS / f"breakwright-sans-{weight}.ttf", SIZE) for weight in ("regular", "bold")
)
WORDS = "words"
DRAWN = frozenset(json.loads((FONTS / "widths-regular.json").read_text()))
# A lick over heron-ferry's first phrase, and one with a slip in it.
TAB = "1|-------0-------0|-------0--------|\n2|---0-------0----|---0-------0----|\n3|-2/4-----0------|-0--------------|\n4|----------------|---------0------|\n5|-----0-------0--|-----0-------0--|"
SLIP = TAB.replace("|-2/4", "|-2z4")
LINE = "4 - 2 3 5 1 2 1, 3 - 5 2 3 - - -"
_MOMENT = re.compile(r"<t:(\d+):f>")


def pieces(content: str) -> list[tuple[str, str]]:
    """A message's lines as the chat shows them: (``bold``, ``plain`` or ``tab``, text)."""
    found, within = [], False
    for line in content.split("\n"):
        if line == "```":
            within = not within
        elif within:
            found.append(("tab", line))
        else:
            bold = line.startswith("**")
            text = line.removeprefix("**").removesuffix("**") if bold else line
            text = _MOMENT.sub(lambda at: f"{datetime.fromtimestamp(int(at[1]), UTC):%d %B %Y, %H:%M}", text)
            found.append(
                ("bold" if bold else "plain", re.sub(r"\\([^\w\s])", r"\1", text).replace("\u200b", ""))
            )
    return found


def wrapped(text: str, font: ImageFont.FreeTypeFont, room: int) -> list[str]:
    lines = [""]
    for word in text.replace("\N{NO-BREAK SPACE}", " ").split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if font.getlength(longer) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


class Sheet:
    """Messages one below the other, each in a frame with a name above it. The file holds their words as text too (``WORDS``)."""

    def __init__(self) -> None:
        self.words: list[str] = []
        self.image = Image.new("RGB", (WIDE, 6000), PAPER)
        self._draw = ImageDraw.Draw(self.image)
        self._y = EDGE

    def message(self, who: str, message: Message, pictures: int = 1, most: int = 700) -> None:
        """``pictures`` of what is attached, ``most`` pixels of each from its top."""
        self._write(EDGE, who, PALE, BOLD)
        self._y += LEADING + GAP
        top = self._y
        self._y += GAP
        for kind, text in pieces(message.content):
            if kind == "tab":
                self._tab(text)
                continue
            font = BOLD if kind == "bold" else REGULAR
            for line in wrapped(text, font, ROOM):
                self._write(LEFT, line, INK, font)
                self._y += LEADING
        for attached in message.attachments[:pictures]:
            self._picture(attached.data, most)
        for row in message.components:
            self._row([item["label"] for item in row["components"] if item["type"] == 2])
        self._y += GAP
        self._draw.rounded_rectangle((EDGE, top, WIDE - EDGE, self._y), 14, outline=FRAME, width=2)
        self._y += EDGE + GAP

    def _write(self, x: int, text: str, colour: str, font: ImageFont.FreeTypeFont) -> None:
        self._tell(text)
        self._draw.text((x, self._y), text, colour, font)

    def _tell(self, text: str) -> None:
        """Raises ValueError for what the fonts have no letter for: it would be drawn as a box."""
        if missing := set(text) - DRAWN:
            raise ValueError(f"the fonts have no {', '.join(sorted(missing))} in {text!r}")
        self.words.append(text)

    def _tab(self, text: str) -> None:
        self._tell(text)
        for column, letter in enumerate(text):
            at = LEFT + column * CELL + CELL // 2
            self._draw.text((at, self._y), letter, INK, REGULAR, anchor="ma")
        self._y += LEADING

    def _picture(self, data: bytes, most: int) -> None:
        shown = Image.open(io.BytesIO(data)).convert("RGB")
        shown = shown.resize((ROOM, shown.height * ROOM // shown.width))
        shown = shown.crop((0, 0, ROOM, min(shown.height, most)))
        self._y += GAP
        self.image.paste(shown, (LEFT, self._y))
        self._draw.rectangle((LEFT, self._y, LEFT + ROOM, self._y + shown.height), outline=FRAME, width=2)
        self._y += shown.height + GAP

    def _row(self, labels: Sequence[str]) -> None:
        x = LEFT
        self._y += 6 if labels else 0
        for label in labels:
            wide = int(REGULAR.getlength(label)) + 36
            if x + wide > LEFT + ROOM:
                x, self._y = LEFT, self._y + 64
            self._draw.rounded_rectangle((x, self._y, x + wide, self._y + 52), 10, outline=PALE, width=2)
            self._y += 8
            self._write(x + 18, label, INK, REGULAR)
            self._y -= 8
            x += wide + 12
        self._y += 60 if labels else 0

    def save(self, path: Path) -> None:
        told = PngInfo()
        told.add_itxt(WORDS, "\n".join(self.words))
        self.image.crop((0, 0, WIDE, self._y - GAP)).quantize(64).save(path, optimize=True, pnginfo=told)


def draw(corner: Corner, folder: Path) -> None:
    asked = corner.ask("break random", corner.wren, tune="heron-ferry", level=2, seed=7)
    _save(folder / "chat-break.png", ("Wren: break random", asked.message))

    challenges = f"{GROUP}/challenges"
    corner.service.organiser.post(challenges, json={"tune": "heron-ferry", "phrase": 1}).raise_for_status()
    (announced,) = corner.posted()
    form = corner.ask("variation send", corner.otter)
    slipped = corner.platform.submit(form, {"text": SLIP, "name": "Ferry bell"}).wait(90)
    _save(folder / "chat-mending.png", ("Otter: variation send (seen by Otter alone)", slipped.message))

    again = corner.press(slipped.message, "Mend it", corner.otter)
    corner.platform.submit(again, {"text": TAB, "name": "Ferry bell"}).wait(90)
    entry = _entries(corner, announced, 1)[0]
    for person in (corner.wren, corner.kit):
        corner.press(entry, "Vote", person)
    _until_shown(corner, entry, 2)
    _save(folder / "chat-challenge.png", ("Posted by itself", announced), ("In the thread below it", entry))

    form = corner.ask("variation send", corner.kit)
    corner.platform.submit(form, {"text": LINE, "name": "Rope over the post"}).wait(90)
    other = _entries(corner, announced, 2)[1]
    corner.press(other, "Vote", corner.otter)
    corner.service.organiser.post(f"{challenges}/1/close").raise_for_status()
    result = corner.posted(2)[-1]
    best = corner.ask("favourites", corner.wren)
    _save(folder / "chat-round-up.png", ("Posted by itself", result), ("Wren: favourites", best.message))


def _entries(corner: Corner, announced: Message, count: int) -> list[Message]:
    """What stands in the thread below a challenge, once so many variations do."""

    def there() -> list[Message]:
        return corner.of_bot(announced.thread) if announced.thread is not None else []

    corner.platform.until(lambda: len(there()) >= count, 90)
    return there()


def _until_shown(corner: Corner, entry: Message, votes: int) -> None:
    """Until the button that gives votes says how many there are."""
    corner.platform.until(lambda: entry.components[0]["components"][0]["label"].endswith(f"· {votes}"), 90)


def _save(path: Path, *messages: tuple[str, Message]) -> None:
    sheet = Sheet()
    for who, message in messages:
        sheet.message(who, message)
    sheet.save(path)


def main() -> None:
    warnings.simplefilter("ignore")
    with tempfile.TemporaryDirectory() as folder, running_corner(Path(folder)) as corner:
        draw(corner, PICTURES)


if __name__ == "__main__":
    main()
