"""Replies as messages of the chat: text, files with descriptions, buttons, menus; and forms."""

import io
import logging
from collections.abc import Sequence
from dataclasses import dataclass, replace

import discord
from discord import ui

from bot.book import Book
from bot.calls import TooLong, written
from bot.discord_side.texts import MOST_TEXT, block, cut, length, plain
from bot.replies import Button, Call, File, Form, Menu, Reply
from bot.wording import say

log = logging.getLogger("breakwright.bot")
MOST_FILES, MOST_ALT, MOST_LABEL, MOST_CHOICE = 10, 1024, 80, 100
MOST_ROWS, MOST_IN_ROW, MOST_CHOICES = 5, 5, 25
MOST_TITLE, MOST_BLANKS, MOST_TYPED = 45, 5, 4000
TYPED_FILE = "text.txt"  # preformatted text that a message has no room for
NOTES_FILE = "all.txt"  # an answer that a message has no room for
LOOKS = {
    "plain": discord.ButtonStyle.secondary,
    "main": discord.ButtonStyle.primary,
    "good": discord.ButtonStyle.success,
    "grave": discord.ButtonStyle.danger,
}


@dataclass(frozen=True, slots=True)
class Message:
    """What a reply is made into; ``files`` are opened anew for each try to send it."""

    content: str
    files: tuple[File, ...]
    view: ui.View | None

    def attachments(self) -> list[discord.File]:
        return [
            discord.File(
                io.BytesIO(file.data), file.name, description=cut(file.description, MOST_ALT) or None
            )
            for file in self.files
        ]


def message_of(
    reply: Reply, book: Book, language: str, most_bytes: int, mark: str = "", group: str | None = None
) -> Message:
    """``most_bytes`` is what a file may have where it goes; ``mark`` tells the message apart, ``group`` is what it is about."""
    files = tuple(file for file in reply.files if len(file.data) <= most_bytes)[:MOST_FILES]
    notes = list(reply.notes)
    if len(files) < len(reply.files):
        notes.append(say("A file is larger than this chat takes.", language))
    tab = reply.tab
    head = f"**{plain(reply.head)}**" if reply.head else ""
    if length(_content(head, notes, "")) > MOST_TEXT and len(notes) > 1:
        files = (*files[: MOST_FILES - 1], File("text", NOTES_FILE, "\n".join([reply.head, *notes]).encode()))
        notes = _that_fit(head, notes, say("All of it is in the file.", language))
    if tab and length(_content(head, notes, tab)) > MOST_TEXT:
        files = (*files[: MOST_FILES - 1], File("text", TYPED_FILE, tab.encode()))
        tab = ""
    return Message(cut(_content(head, notes, tab), MOST_TEXT), files, view_of(reply, book, mark, group))


def _content(head: str, notes: Sequence[str], tab: str) -> str:
    return "\n".join(filter(None, [head, block(tab) if tab else "", *(plain(note) for note in notes)]))


def _that_fit(head: str, notes: Sequence[str], last: str) -> list[str]:
    """As many notes as there is room for, with one more as the last."""
    kept = list(notes)
    while kept and length(_content(head, [*kept, last], "")) > MOST_TEXT:
        kept.pop()
    return [*kept, last]


def view_of(reply: Reply, book: Book, mark: str = "", group: str | None = None) -> ui.View | None:
    """Buttons and menus. The library does not keep it: whatever is pressed comes in by what it carries."""
    made = ui.View(timeout=None)
    row = 0
    for buttons in reply.buttons:
        shown = [item for item in (_button(button, book, mark, group, row) for button in buttons) if item]
        for item in shown[:MOST_IN_ROW]:
            made.add_item(item)
        row += bool(shown)
    for menu in reply.menus:
        choices = _select(menu, book, group, row, mark)
        if choices is not None and row < MOST_ROWS:
            made.add_item(choices)
            row += 1
    made.stop()
    return made if made.children else None


def carried(call: Call, book: Book, mark: str = "", group: str | None = None) -> str:
    """What a button of that call carries. Raises TooLong."""
    return written(replace(call, group=call.group or group), book.short_names(call.command), mark)


def _button(button: Button, book: Book, mark: str, group: str | None, row: int) -> ui.Button[ui.View] | None:
    try:
        carries = carried(button.call, book, mark, group)
    except TooLong:
        log.warning("a button does not fit", extra={"command": button.call.command})
        return None
    return ui.Button(
        label=cut(button.label, MOST_LABEL), custom_id=carries, style=LOOKS[button.look], row=row
    )


def _select(menu: Menu, book: Book, group: str | None, row: int, mark: str) -> ui.Select[ui.View] | None:
    options, seen = [], set()
    for choice in menu.choices:
        try:
            value = carried(choice.call, book, group=group)
        except TooLong:
            log.warning("a choice does not fit", extra={"command": choice.call.command})
            continue
        if value not in seen:
            seen.add(value)
            options.append(
                discord.SelectOption(
                    label=cut(choice.label, MOST_CHOICE),
                    value=value,
                    description=cut(choice.note, MOST_CHOICE) or None,
                )
            )
    if not options:
        return None
    return ui.Select(
        custom_id=f"menu{row}#{mark}",
        placeholder=cut(menu.hint, MOST_CHOICE),
        options=options[:MOST_CHOICES],
        row=row,
    )


def modal_of(form: Form, book: Book, group: str | None = None) -> ui.Modal:
    """Raises TooLong."""
    made = ui.Modal(
        title=cut(form.title, MOST_TITLE), custom_id=carried(form.call, book, group=group), timeout=None
    )
    for blank in form.blanks[:MOST_BLANKS]:
        typed: ui.TextInput[ui.Modal] = ui.TextInput(
            style=discord.TextStyle.long if blank.long else discord.TextStyle.short,
            custom_id=blank.name,
            required=blank.required,
            default=blank.value[:MOST_TYPED] or None,
            placeholder=cut(blank.hint, MOST_CHOICE) or None,
            max_length=min(blank.most, MOST_TYPED),
        )
        made.add_item(ui.Label(text=cut(blank.label, MOST_TITLE), component=typed))
    made.stop()
    return made
