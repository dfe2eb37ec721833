"""What somebody practises, and lessons that are set for them. All of it is theirs alone unless they share it."""

from dataclasses import replace

from bot.api import practice
from bot.asks import Ask
from bot.book import Command, Option
from bot.commands.phrases import MOST_CHOICES
from bot.commands.pictures import PICTURE, pages
from bot.commands.reading import day_read, member_named
from bot.commands.terms import CODE, LICK, PHRASE, TEMPO
from bot.replies import Answer, Button, Call, Choice, Menu, Reply
from bot.trouble import Unusable
from bot.wording import word
from schemas.practice import (
    LessonIn,
    LessonOut,
    LessonPatch,
    LogIn,
    PieceOut,
    PieceProgressOut,
    PracticeChoicesIn,
    PracticeChoicesOut,
)

MOST_LISTED = 10  # of anything, in a list; ours


def _piece(ask: Ask, piece: PieceOut) -> str:
    if piece.lick is not None:
        return ask.say("lick {number}", number=piece.lick)
    if piece.phrase is None:
        return ask.say("break {code}", code=piece.break_)
    return ask.say("break {code}, phrase {phrase}", code=piece.break_, phrase=piece.phrase)


def _open(piece: PieceOut) -> Call:
    if piece.lick is not None:
        return Call("lick show", {"lick": str(piece.lick)})
    if piece.phrase is None:
        return Call("break show", {"code": str(piece.break_)})
    return Call("break loop", {"code": str(piece.break_), "phrase": str(piece.phrase)})


def _given(piece: PieceOut) -> dict[str, str]:
    told = {"lick": piece.lick, "code": piece.break_, "phrase": piece.phrase}
    return {name: str(value) for name, value in told.items() if value is not None}


def _menu(ask: Ask, pieces: list[PieceOut]) -> tuple[Menu, ...]:
    choices = tuple(Choice(_piece(ask, piece), _open(piece)) for piece in pieces[:MOST_CHOICES])
    return (Menu(ask.say("Look at one"), choices),) if choices else ()


# --- practice -------------------------------------------------------------------------------------------------


async def log(
    ask: Ask,
    tempo: int,
    clean: bool,
    lick: int | None = None,
    code: str | None = None,
    phrase: int | None = None,
    passes: int = 1,
    minutes: int | None = None,
    without_tab: bool = False,
    from_memory: bool = False,
) -> Answer:
    """Practice is noted; the answer is which tempo comes next."""
    done = await practice.log(
        ask.here,
        LogIn(
            lick=lick,
            break_=code,
            phrase=phrase,
            bpm=tempo,
            clean=clean,
            passes=passes,
            minutes=minutes,
            without_tab=without_tab,
            from_memory=from_memory,
        ),
    )
    passed = ask.say("clean") if done.clean else ask.say("not clean yet")
    noted = ask.say(
        "Noted: {piece} at {unit} = {bpm}, {passed}.",
        piece=_piece(ask, done), unit=ask.say(done.unit), bpm=done.bpm, passed=passed,
    )  # fmt: skip
    progress = Button(ask.say("Progress"), Call("practice progress", _given(done)))
    return Reply(
        head=done.next.text,
        notes=(noted, *(caution.text for caution in done.cautions)),
        buttons=((Button(ask.say("Look at it"), _open(done)), progress),),
        private=True,
    )


async def progress(
    ask: Ask,
    lick: int | None = None,
    code: str | None = None,
    phrase: int | None = None,
    member: str | None = None,
) -> Answer:
    """Best clean tempos and days played; of one piece with its picture."""
    whose = None if member is None else (await member_named(ask, member)).number
    query: dict[str, str | int | None] = {"member": whose, "lick": lick, "break": code, "phrase": phrase}
    found = await practice.progress(ask.here, query)
    days = ask.say(
        "Played on {days} of the last {of_days} days.", days=found.days_played, of_days=found.of_days
    )
    if found.weeks:
        days = f"{days} {ask.say('This week: {minutes} minutes.', minutes=found.weeks[-1].minutes)}"
    pieces = found.pieces[:MOST_LISTED]
    notes = [_progress(ask, piece) for piece in pieces]
    if len(found.pieces) > len(pieces):
        notes.append(ask.say("And {count} more.", count=len(found.pieces) - len(pieces)))
    reply = Reply(
        head=days,
        notes=(*notes, *(caution.text for caution in found.cautions)),
        menus=_menu(ask, list(pieces)),
        private=True,
    )
    if found.picture is None:
        return reply
    if not ask.pictures:
        return replace(reply, notes=(found.picture, *reply.notes))
    drawn = await pages(ask, PICTURE, "/practice-logs/progress.png", query)
    return replace(reply, files=tuple(replace(file, description=found.picture) for file in drawn))


def _progress(ask: Ask, piece: PieceProgressOut) -> str:
    what, unit = _piece(ask, piece), ask.say(piece.unit)
    if piece.best is None:
        return ask.say("{piece}: not clean yet, days: {days}", piece=what, days=piece.days)
    return ask.say(
        "{piece}: clean at {unit} = {bpm} since {day}, days: {days}",
        piece=what, unit=unit, bpm=piece.best.bpm, day=piece.best.day, days=piece.days,
    )  # fmt: skip


async def due(ask: Ask) -> Answer:
    """What comes up again, to be tried without the tab."""
    found = (await practice.due(ask.here)).items
    if not found:
        return Reply(head=ask.say("Nothing comes up today. Rest is part of practice."), private=True)
    notes = [f"{_piece(ask, one)} ({one.due})" for one in found[:MOST_LISTED]]
    if len(found) > MOST_LISTED:
        notes.append(ask.say("And {count} more.", count=len(found) - MOST_LISTED))
    notes.append(ask.say("Stop when it is enough, or if anything hurts."))
    return Reply(
        head=ask.say("To try without the tab, when it suits you"),
        notes=tuple(notes),
        menus=_menu(ask, list(found)),
        private=True,
    )


async def remind(ask: Ask, on: bool | None = None) -> Answer:
    return await _choose(ask, reminders=on)


async def share(ask: Ask, on: bool | None = None) -> Answer:
    return await _choose(ask, shared=on)


async def _choose(ask: Ask, shared: bool | None = None, reminders: bool | None = None) -> Answer:
    """What is chosen, with what is given now in its place."""
    if ask.me.member is None:
        raise Unusable(ask.say("Only members practise here."))
    chosen = await practice.choices(ask.here, ask.me.member)
    if shared is not None or reminders is not None:
        wanted = PracticeChoicesIn(
            shared=chosen.shared if shared is None else shared,
            reminders=chosen.reminders if reminders is None else reminders,
        )
        chosen = await practice.choose(ask.here, ask.me.member, wanted)
    return _chosen(ask, chosen, of_reminders=shared is None)


def _chosen(ask: Ask, chosen: PracticeChoicesOut, *, of_reminders: bool) -> Reply:
    seen = (
        ask.say("The group may see how your practice goes.")
        if chosen.shared
        else ask.say("Nobody else sees how your practice goes.")
    )
    reminded = (
        ask.say("Reminders are on: what you played by heart comes up again.")
        if chosen.reminders
        else ask.say("Reminders are off.")
    )
    share_button = Button(
        ask.say("Keep it to me") if chosen.shared else ask.say("Show the group"),
        Call("practice share", {"on": "no" if chosen.shared else "yes"}),
    )
    remind_button = Button(
        ask.say("No reminders") if chosen.reminders else ask.say("Remind me"),
        Call("practice reminders", {"on": "no" if chosen.reminders else "yes"}),
    )
    head, note = (reminded, seen) if of_reminders else (seen, reminded)
    return Reply(head=head, notes=(note,), buttons=((share_button, remind_button),), private=True)


# --- lessons --------------------------------------------------------------------------------------------------


async def set_lesson(
    ask: Ask,
    member: str,
    day: str,
    lick: int | None = None,
    code: str | None = None,
    phrase: int | None = None,
    comment: str = "",
    level: int | None = None,
) -> Answer:
    whose = await member_named(ask, member)
    made = await practice.set_lesson(
        ask.here,
        LessonIn(
            member=whose.number,
            due=day_read(ask, day),
            lick=lick,
            break_=code,
            phrase=phrase,
            comment=comment,
            level=level,
        ),
    )
    head = ask.say(
        "Lesson {number} for {name}: {piece}, until {day}.",
        number=made.number, name=whose.name, piece=_piece(ask, made), day=made.due,
    )  # fmt: skip
    return Reply(head=head, notes=(ask.say("It is between the two of you."),), private=True)


async def lessons(ask: Ask, member: str | None = None) -> Answer:
    """Those that are not done yet, soonest first."""
    whose = None if member is None else (await member_named(ask, member)).number
    every = await practice.lessons(ask.here, whose)
    found = sorted((one for one in every if not one.done), key=lambda one: one.due)
    if not found:
        return Reply(head=ask.say("No lesson is waiting."), private=True)
    notes = [_lesson(ask, one) for one in found[:MOST_LISTED]]
    if len(found) > MOST_LISTED:
        notes.append(ask.say("And {count} more.", count=len(found) - MOST_LISTED))
    mine = [one for one in found if one.member == ask.me.member][:MOST_CHOICES]
    done = tuple(
        Choice(f"{one.number}: {_piece(ask, one)}", Call("lesson done", {"lesson": str(one.number)}))
        for one in mine
    )
    menus = (*_menu(ask, list(found)), *((Menu(ask.say("Done"), done),) if done else ()))
    return Reply(head=ask.say("Lessons"), notes=tuple(notes), menus=menus, private=True)


def _lesson(ask: Ask, one: LessonOut) -> str:
    line = ask.say("{number}: {piece}, until {day}", number=one.number, piece=_piece(ask, one), day=one.due)
    return f"{line}: {one.comment}" if one.comment else line


async def done(ask: Ask, lesson: int) -> Answer:
    made = await practice.change_lesson(ask.here, lesson, LessonPatch(done=True))
    return Reply(
        head=ask.say("Lesson {number} is done: {piece}.", number=made.number, piece=_piece(ask, made)),
        private=True,
    )


_PIECE = (replace(LICK, required=False), replace(CODE, required=False), PHRASE)
_ON = Option("on", "yes", word("Yes or no; without it, how it is now."), "o")
_MEMBER = Option("member", "member", word("Whose."), "m")

COMMANDS = (
    Command(
        "practice log",
        word("Note what you practised, and hear which tempo comes next."),
        log,
        (
            replace(TEMPO, required=True),
            Option("clean", "yes", word("Whether all passes were clean."), "y", required=True),
            *_PIECE,
            Option("passes", "whole", word("How often at that tempo."), "s", least=1, most=99),
            Option("minutes", "whole", word("How long, in minutes."), "i", least=1, most=1440),
            Option("without-tab", "yes", word("Played without the tab."), "w"),
            Option("from-memory", "yes", word("Played by heart on another day."), "h"),
        ),
        private=True,
    ),
    Command(
        "practice progress",
        word("Your clean tempos and days played; of one piece with a picture."),
        progress,
        (*_PIECE, _MEMBER),
        private=True,
    ),
    Command("practice due", word("What comes up again, to be tried by heart."), due, private=True),
    Command(
        "practice reminders",
        word("Whether what you know by heart comes up again."),
        remind,
        (_ON,),
        private=True,
    ),
    Command("practice share", word("Whether the group may see how it goes."), share, (_ON,), private=True),
    Command(
        "lesson set",
        word("Set somebody something to practise by a day."),
        set_lesson,
        (
            replace(_MEMBER, required=True),
            Option("day", "day", word("By which day, as 2026-12-31."), "d", required=True),
            *_PIECE,
            Option("comment", "text", word("What to mind."), "e", most=2000),
            Option(
                "level",
                "whole",
                word("What you think of them, 1 to 5; for you two alone."),
                "l",
                least=1,
                most=5,
            ),
        ),
        private=True,
        organisers=True,
    ),
    Command("lesson list", word("Lessons that wait."), lessons, (_MEMBER,), private=True),
    Command(
        "lesson done",
        word("A lesson of yours is done."),
        done,
        (Option("lesson", "whole", word("Which one, by its number."), "n", required=True, least=1),),
        private=True,
    ),
)
