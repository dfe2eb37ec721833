"""Makes the README's pictures of the chat out of what the stand-in recorded of a real bot and service:

python -m tests.tools.make_chat_pictures
"""

import io
import re
import tempfile
import warnings
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from tests.chat.corner import GROUP, Corner, running_corner
from tests.chat_platform.wire import Message
from tests.tools.make_examples import PICTURES

FONTS = Path(__file__).resolve().parents[2] / "service" / "engrave" / "fonts"
WIDE, EDGE, GAP = 780, 36, 14  # a phone of 390 points, twice
SIZE, LINE, CELL = 28, 38, 19
INK, PALE, PAPER, FRAME = "#1d1b18", "#6d675e", "#fffdf8", "#c9bfae"
REGULAR, BOLD = (
    ImageFont.truetype(FONTS / f"breakwright-sans-{weight}.ttf", SIZE) for weight in ("regular", "bold")
)
# A lick over heron-ferry's first phrase, and one with a slip in it.
TAB = "1|-------0-------0|-------0--------|\n2|---0-------0----|---0-------0----|\n3|-2/4-----0------|-0--------------|\n4|----------------|---------0------|\n5|-----0-------0--|-----0-------0--|"
SLIP = TAB.replace("|-2/4", "|-2z4")
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
    """Messages one below the other."""

    def __init__(self) -> None:
        self.image = Image.new("RGB", (WIDE, 6000), PAPER)
        self._draw = ImageDraw.Draw(self.image)
        self._y = EDGE

    def says(self, who: str) -> None:
        self._draw.text((EDGE, self._y), who, PALE, BOLD)
        self._y += LINE + 6

    def message(self, message: Message, pictures: int = 1, most: int = 700) -> None:
        for kind, text in pieces(message.content):
            if kind == "tab":
                for column, letter in enumerate(text):
                    at = EDGE + 20 + column * CELL + CELL // 2
                    self._draw.text((at, self._y), letter, INK, REGULAR, anchor="ma")
                self._y += LINE
                continue
            font = BOLD if kind == "bold" else REGULAR
            for line in wrapped(text, font, WIDE - 2 * EDGE):
                self._draw.text((EDGE, self._y), line, INK, font)
                self._y += LINE
        for attached in message.attachments[:pictures]:
            shown = Image.open(io.BytesIO(attached.data)).convert("RGB")
            shown = shown.resize((WIDE - 2 * EDGE, shown.height * (WIDE - 2 * EDGE) // shown.width))
            shown = shown.crop((0, 0, shown.width, min(shown.height, most)))
            self._y += GAP
            self.image.paste(shown, (EDGE, self._y))
            self._draw.rectangle((EDGE, self._y, WIDE - EDGE, self._y + shown.height), outline=FRAME, width=2)
            self._y += shown.height + GAP
        for row in message.components:
            self._row([item["label"] for item in row["components"] if item["type"] == 2])
        self._y += 2 * GAP

    def _row(self, labels: Sequence[str]) -> None:
        x = EDGE
        for label in labels:
            wide = int(REGULAR.getlength(label)) + 36
            if x + wide > WIDE - EDGE:
                x, self._y = EDGE, self._y + 64
            self._draw.rounded_rectangle((x, self._y + 6, x + wide, self._y + 58), 10, outline=PALE, width=2)
            self._draw.text((x + 18, self._y + 14), label, INK, REGULAR)
            x += wide + 12
        self._y += 66 if labels else 0

    def save(self, path: Path) -> None:
        self.image.crop((0, 0, WIDE, self._y)).quantize(64).save(path, optimize=True)


def draw(corner: Corner, folder: Path) -> None:
    sheet = Sheet()
    sheet.says("Wren: break random")
    sheet.message(corner.ask("break random", corner.wren, tune="heron-ferry", level=2, seed=7).message)
    sheet.save(folder / "chat-break.png")

    corner.service.organiser.post(
        f"{GROUP}/challenges", json={"tune": "heron-ferry", "phrase": 1}
    ).raise_for_status()
    (announced,) = corner.posted()
    form = corner.ask("variation send", corner.otter)
    slipped = corner.platform.submit(form, {"text": SLIP, "name": "Ferry bell"}).wait(90)
    sheet = Sheet()
    sheet.says("Otter: variation send (seen by Otter alone)")
    sheet.message(slipped.message)
    sheet.save(folder / "chat-mending.png")

    again = corner.press(slipped.message, "Mend it", corner.otter)
    corner.platform.submit(again, {"text": TAB, "name": "Ferry bell"}).wait(90)
    corner.platform.until(lambda: announced.thread is not None and bool(corner.of_bot(announced.thread)), 90)
    assert announced.thread is not None
    (entry,) = corner.of_bot(announced.thread)
    for person in (corner.wren, corner.kit):
        corner.press(entry, "Vote", person)
    corner.platform.until(lambda: entry.edits > 0, 90)
    sheet = Sheet()
    sheet.says("Posted by itself")
    sheet.message(announced)
    sheet.says("In the thread below it")
    sheet.message(entry)
    sheet.save(folder / "chat-challenge.png")


def main() -> None:
    warnings.simplefilter("ignore")
    with tempfile.TemporaryDirectory() as folder, running_corner(Path(folder)) as corner:
        draw(corner, PICTURES)


if __name__ == "__main__":
    main()
