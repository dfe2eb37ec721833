"""What is not easily undone is asked once more."""

from dataclasses import replace

from bot.asks import Ask
from bot.book import Option
from bot.replies import Button, Call, Reply
from bot.wording import word

SURE = Option("sure", "yes", word("Do it, without asking once more."), "z", hidden=True)


def ask_twice(ask: Ask, head: str, label: str, call: Call, *notes: str) -> Reply:
    """``call`` is made when the button is pressed."""
    sure = replace(call, given={**call.given, "sure": "yes"})
    return Reply(
        head=head,
        notes=notes,
        buttons=((Button(label, sure, "grave"),),),
        private=True,
    )
