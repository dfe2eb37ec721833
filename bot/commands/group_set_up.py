"""What a group has chosen: where posts go, when its week begins, what it plays, who may come in."""

from collections.abc import Mapping
from typing import Any
from zoneinfo import available_timezones

import msgspec

from bot.api import groups, licks
from bot.asks import Ask
from bot.book import Command, Option
from bot.commands.terms import INSTRUMENTS
from bot.replies import Answer, Blank, Button, Call, Choice, Form, Menu, Reply, moment
from bot.trouble import Unusable
from bot.wording import word
from schemas.groups import GroupOut, GroupPatch, SettingsIn, SettingsOut

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
DOORS = ("open", "invited")
LANGUAGES = {"en": "English", "de": "Deutsch", "es": "Español"}
OF_GROUP = ("instrument", "language", "name")  # what is the group's own, and no setting
HERE = "here"


async def set_up(ask: Ask, **given: Any) -> Answer:
    """What is chosen; what is given now takes its place first."""
    group, chosen = await groups.group(ask.here), await groups.settings(ask.here)
    of_group = {name: given[name] for name in OF_GROUP if name in given}
    of_settings = {name: value for name, value in given.items() if name not in OF_GROUP}
    if of_group:
        if "instrument" in of_group:
            of_group["tuning"] = await _first_tuning(ask, of_group["instrument"])
        group = await groups.change_group(ask.here, GroupPatch(**of_group), group.revision)
        chosen = await groups.settings(ask.here)
    if of_settings:
        wanted = _wanted(ask, chosen, of_settings)
        chosen = await groups.change_settings(ask.here, wanted, chosen.revision)
    return _shown(ask, group, chosen)


async def _first_tuning(ask: Ask, instrument: str) -> str:
    """The one that an instrument has unless another is said."""
    every = (await licks.instruments(ask.here)).items
    return next(one.tunings[0].id for one in every if one.id == instrument)


def _wanted(ask: Ask, chosen: SettingsOut, given: Mapping[str, Any]) -> SettingsIn:
    """All settings, with those that are given in the place of what they were. Raises Unusable."""
    present = {name: getattr(chosen, name) for name in SettingsIn.__struct_fields__}
    changed = {**present, **{name: value for name, value in given.items() if name in present}}
    least, most = given.get("least", chosen.levels[0]), given.get("most", chosen.levels[1])
    # what is given stands; the other one follows it
    changed["levels"] = (least, max(least, most)) if "least" in given else (min(least, most), most)
    if given.get("channel") == HERE:
        changed["channel"] = ask.visitor.channel
    if given.get("zone"):
        changed["zone"] = _zone(ask, given["zone"])
    if given.get("time"):
        changed["time"] = _time(ask, given["time"])
    return msgspec.convert(changed, SettingsIn)


def _zone(ask: Ask, text: str) -> str:
    """A zone by its name, or by its city: ``Berlin``. Raises Unusable."""
    plain = text.strip().replace(" ", "_").casefold()
    zones = available_timezones()
    for zone in sorted(zones):
        if zone.casefold() == plain:
            return zone
    cities = [zone for zone in sorted(zones) if zone.rpartition("/")[2].casefold() == plain]
    if not cities:
        raise Unusable(ask.say("I know no zone “{text}”: write it like Europe/Berlin.", text=text))
    return cities[0]


def _time(ask: Ask, text: str) -> str:
    """``9:30`` as ``09:30``. Raises Unusable."""
    hours, _, minutes = text.strip().replace(".", ":").partition(":")
    minutes = minutes or "00"
    if not (hours.isascii() and hours.isdigit() and minutes.isascii() and minutes.isdigit()):
        raise Unusable(ask.say("“{text}” is no time: write it as 19:30.", text=text))
    if int(hours) > 23 or int(minutes) > 59 or len(minutes) != 2:
        raise Unusable(ask.say("“{text}” is no time: write it as 19:30.", text=text))
    return f"{int(hours):02}:{minutes}"


def _shown(ask: Ask, group: GroupOut, chosen: SettingsOut) -> Reply:
    return Reply(
        head=ask.say(
            "{group}: the week begins {moment}", group=group.name, moment=moment(chosen.week_begins)
        ),
        notes=(
            _where(ask, chosen),
            ask.say(
                "Each {weekday} at {time}, {zone}.",
                weekday=ask.say(chosen.weekday),
                time=chosen.time,
                zone=chosen.zone,
            ),
            ask.say("Instrument: {instrument}", instrument=ask.say(group.instrument)),
            ask.say(
                "Challenges ask for levels {least} to {most}.", least=chosen.levels[0], most=chosen.levels[1]
            ),
            *(f"{_label(ask, name)}: {_yes_no(ask, getattr(chosen, name))}" for name in _SWITCHES),
            _door(ask, chosen),
        ),
        buttons=_buttons(ask, chosen),
        menus=(
            _menu(ask, ask.say("The day the week begins"), "weekday", _words(ask, WEEKDAYS), chosen.weekday),
            _menu(
                ask,
                ask.say("The group's instrument"),
                "instrument",
                _words(ask, INSTRUMENTS),
                group.instrument,
            ),
            _menu(ask, ask.say("The language of posts"), "language", LANGUAGES, group.language),
        ),
        private=True,
    )


_SWITCHES = ("draws", "reminds", "secret_votes", "review")


def _label(ask: Ask, name: str) -> str:
    labels = {
        "draws": ask.say("A challenge is drawn each week"),
        "reminds": ask.say("Reminders before it closes"),
        "secret_votes": ask.say("Secret votes"),
        "review": ask.say("Licks sent in wait for an organiser"),
    }
    return labels[name]


def _yes_no(ask: Ask, on: bool) -> str:
    return ask.say("yes") if on else ask.say("no")


def _where(ask: Ask, chosen: SettingsOut) -> str:
    if chosen.channel is None:
        return ask.say("Posts go nowhere yet: press Post here in the channel you want.")
    if chosen.channel == ask.visitor.channel:
        return ask.say("Posts go to this channel.")
    return ask.say("Posts go to another channel.")


def _door(ask: Ask, chosen: SettingsOut) -> str:
    if chosen.door == "open":
        return ask.say("Whoever is on the server may join.")
    return ask.say("Only those who were invited may join.")


def _buttons(ask: Ask, chosen: SettingsOut) -> tuple[tuple[Button, ...], ...]:
    def switch(label_on: str, label_off: str, name: str) -> Button:
        on = getattr(chosen, name)
        given = {_OPTION_OF.get(name, name): "no" if on else "yes"}
        return Button(label_off if on else label_on, Call("group set-up", given))

    door = "invited" if chosen.door == "open" else "open"
    door_label = ask.say("Invited only") if chosen.door == "open" else ask.say("Open the door")
    clock = Call("group clock", {"time": chosen.time, "zone": chosen.zone})
    first = [Button(ask.say("Time and zone"), clock)]
    if ask.visitor.channel is not None and chosen.channel != ask.visitor.channel:
        first.insert(0, Button(ask.say("Post here"), Call("group set-up", {"channel": HERE}), "main"))
    return (
        (
            *first,
            switch(ask.say("Draw each week"), ask.say("Draw no more"), "draws"),
            switch(ask.say("Remind us"), ask.say("No reminders"), "reminds"),
        ),
        (
            switch(ask.say("Secret votes"), ask.say("Open votes"), "secret_votes"),
            switch(ask.say("Review licks"), ask.say("No review"), "review"),
            Button(door_label, Call("group set-up", {"door": door})),
        ),
    )


_OPTION_OF = {"secret_votes": "secret-votes"}


def _words(ask: Ask, values: tuple[str, ...]) -> dict[str, str]:
    return {value: ask.say(value) for value in values}


def _menu(ask: Ask, hint: str, option: str, values: Mapping[str, str], chosen: str) -> Menu:
    """What may be chosen by its labels; what is chosen now has a note."""
    choices = (
        Choice(
            label, Call("group set-up", {option: value}), ask.say("as it is now") if value == chosen else ""
        )
        for value, label in values.items()
    )
    return Menu(hint, tuple(choices))


async def clock(ask: Ask, time: str = "", zone: str = "") -> Answer:
    """The form for time and zone."""
    blanks = (
        Blank("time", ask.say("When the week begins"), value=time, hint=ask.say("19:30"), most=5),
        Blank("zone", ask.say("Your zone"), value=zone, hint=ask.say("Europe/Berlin"), most=64),
    )
    return Form(ask.say("Time and zone"), Call("group set-up"), blanks)


_TIME = Option("time", "text", word("When the week begins, as 19:30."), "t", most=5)
_ZONE = Option("zone", "text", word("The group's zone, as Europe/Berlin."), "z", most=64)

COMMANDS = (
    Command(
        "group set-up",
        word("What the group has chosen, and changing it."),
        set_up,
        (
            Option("channel", "channel", word("Where posts go; here for this channel."), "c", most=80),
            Option("weekday", "choice", word("The day the week begins."), "w", choices=WEEKDAYS),
            _TIME,
            _ZONE,
            Option("instrument", "choice", word("What the group plays."), "i", choices=INSTRUMENTS),
            Option("least", "whole", word("The easiest level of challenges, 1 to 5."), "a", least=1, most=5),
            Option("most", "whole", word("The hardest level of challenges, 1 to 5."), "b", least=1, most=5),
            Option("draws", "yes", word("A challenge is drawn each week."), "d"),
            Option("reminds", "yes", word("A reminder before it closes."), "r"),
            Option("secret-votes", "yes", word("Nobody sees how votes stand before the round-up."), "s"),
            Option("review", "yes", word("Licks that are sent in wait for an organiser."), "v"),
            Option("door", "choice", word("Who may join: open, or invited."), "o", choices=DOORS),
            Option("language", "choice", word("The language of posts."), "l", choices=tuple(LANGUAGES)),
            Option("name", "text", word("What the group is called."), "n", most=120),
        ),
        private=True,
        organisers=True,
    ),
    Command(
        "group clock",
        word("When the week begins."),
        clock,
        (_TIME, _ZONE),
        form=True,
        listed=False,
        organisers=True,
    ),
)
