"""The command line: ``breakwright demo | serve | read-tab | judge | licks | token | backup | restore | migrate | settings``."""

import argparse
import asyncio
import contextlib
import sqlite3
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

from service.errors import BreakwrightError
from service.settings import PREFIX, Settings, SettingsError, described, load_settings
from service.wording import said

WIDEST = 1000  # columns
HIGHEST_LICK = 9_999_999
FASTEST = 400  # beats a minute
WIDE_FROM = 60  # columns from which several measures stand side by side
DEMO_FOLDER = "ferry-lane-demo"
DEMO_TUNES = ("heron-ferry", "millers-mitten", "thimble-creek")


def main(arguments: list[str] | None = None) -> int:
    """Run a command; the process's exit status."""
    parser = _parser()
    given = parser.parse_args(arguments)
    try:
        status: int = given.run(given)
    except SettingsError as error:
        return _complain(str(error))
    except BreakwrightError as error:
        return _complain(said(error))
    except BrokenPipeError:
        return 1
    except (sqlite3.Error, OSError) as error:
        return _complain(f"cannot use {_folder_of(given)}: {error}")
    except KeyboardInterrupt:
        return 130
    return status


def _folder_of(given: argparse.Namespace) -> str:
    """The folder a command works in, for messages."""
    folder: str | None = getattr(given, "data", None)
    return folder or load_settings().data


def _complain(text: str) -> int:
    print(f"breakwright: {text}", file=sys.stderr)
    return 2


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="breakwright",
        description="A jam group's pool of licks, and every break that can be made of it.",
    )
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")

    demo = commands.add_parser("demo", help="make an invented group and a fresh break of one of its tunes")
    demo.add_argument("--data", help="folder for the demo's database (kept and used again)")
    demo.add_argument("--fresh", action="store_true", help="start over with a new database")
    demo.add_argument("--seed", type=int, help="a whole number: the same one gives the same break")
    demo.add_argument("--tune", default=DEMO_TUNES[0], help=", ".join(DEMO_TUNES))
    demo.add_argument("--instrument", help="banjo, guitar or mandolin")
    demo.add_argument("--max-level", type=int, choices=range(1, 6), help="no lick harder than this")
    demo.add_argument("--number", type=_digits, metavar="K", help="number K of all breaks of the tune")
    demo.add_argument("--repeats", choices=("same", "different"), help="play a part that comes again so")
    demo.add_argument("--no-repeats", action="store_true", help="no lick twice")
    demo.add_argument(
        "--melody", type=_percent, metavar="PERCENT", help="recall at least so much of the melody"
    )
    demo.add_argument(
        "--favour", choices=("melody", "smooth", "fresh"), help="make breaks likelier that have more of it"
    )
    demo.add_argument(
        "--best", choices=("smooth", "easy", "melody"), help="the smoothest, easiest, or closest to the tune"
    )
    demo.add_argument(
        "--swap",
        metavar="CODE",
        help="a break shown before, with its tag changed for the one that suits best",
    )
    demo.add_argument("--phrase", type=_count, help="with --swap: another phrase than the last one")
    demo.add_argument("--width", type=_columns, help="columns for the tab; 28 gives one measure a row group")
    demo.add_argument("--port", type=int, help="port of the service (another free one if it is taken)")
    demo.add_argument("--no-serve", action="store_true", help="print the break and stop")
    demo.set_defaults(run=_demo)

    serve = commands.add_parser("serve", help="run the service")
    serve.add_argument("--data", help="folder of the database")
    serve.add_argument("--host", help="address to listen on")
    serve.add_argument("--port", type=int, help="port to listen on")
    serve.set_defaults(run=_serve)

    read = commands.add_parser("read-tab", help="read a tab or one-line lick and say what was understood")
    read.add_argument("file", help="a file, or - for what is piped in")
    read.add_argument("--instrument", default="banjo", help="banjo (default), guitar, mandolin ...")
    read.add_argument("--tuning", help="open-g, c, double-c, sawmill, open-d, standard, drop-d")
    read.add_argument("--meter", help="2/2, 4/4, 2/4, 3/4 or 6/8")
    read.add_argument("--measures", type=_count, help="whole measures in the tab")
    read.add_argument("--columns", type=_count, help="time columns a measure (8, 16)")
    read.add_argument("--json", action="store_true", help="print the notes as JSON")
    read.set_defaults(run=_read_tab)

    judge = commands.add_parser("judge", help="say what a teacher would say of a lick in a file")
    judge.add_argument("file", help="tab or a one-line lick; - for what is piped in")
    judge.add_argument("--key", required=True, help="the key it is fingered in: G, Em")
    judge.add_argument(
        "--chords", help="a chart of its measures, as in '| G | C D |'; named from the notes without"
    )
    judge.add_argument("--instrument", default="banjo", help="banjo (default), guitar, mandolin ...")
    judge.add_argument("--style", help="roll, melodic, single-string, flatpick ...")
    judge.add_argument("--role", choices=("opener", "body", "set-up", "tag"))
    judge.add_argument("--tuning", help="open-g, c, double-c, sawmill, open-d, standard, drop-d")
    judge.add_argument("--meter", help="2/2, 4/4, 2/4, 3/4 or 6/8")
    judge.add_argument("--bpm", type=_tempo, help="tempo in the meter's beats (halves in 2/2)")
    judge.add_argument("--width", type=_columns, default=80, help="columns; 28 for a phone")
    judge.add_argument("--json", action="store_true", help="print the judgement as JSON")
    judge.add_argument("--easier", action="store_true", help="show easier versions too")
    judge.add_argument("--to-chord", help="show it moved so that its first chord becomes this one")
    judge.add_argument("--to-key", help="show it moved to this key")
    judge.add_argument(
        "--steps", type=int, help="show it as a sequence, so many scale steps on (-1 is one lower)"
    )
    judge.add_argument("--for", dest="other", help="show it on this instrument")
    judge.set_defaults(run=_judge)

    licks = commands.add_parser(
        "licks", help="what a group's pool has for a phrase, and what is judged of a lick"
    )
    licks.add_argument("--data", help="folder of the database")
    licks.add_argument("--group", required=True, help="the group")
    licks.add_argument("--tune", help="a tune's short name; with --phrase: licks for it, best first")
    licks.add_argument("--phrase", type=_count, help="a phrase in playing order, repeats written out")
    licks.add_argument("--instrument", help="banjo, guitar, mandolin (the group's own without it)")
    licks.add_argument("--lick", type=_number, help="one lick: judged, by itself or over --tune and --phrase")
    licks.add_argument("--into", type=_number, help="with --lick: the seam into this lick")
    licks.add_argument("--twins", action="store_true", help="with --lick: licks that are the same, or nearly")
    licks.add_argument("--easier", action="store_true", help="with --lick: simpler versions")
    licks.add_argument("--bpm", type=_tempo, help="tempo in the tune's own beats")
    licks.add_argument("--most", type=_count, default=10, help="licks shown (10)")
    licks.add_argument("--width", type=_columns, default=80, help="columns; 28 for a phone")
    licks.set_defaults(run=_licks)

    token = commands.add_parser("token", help="make a token and print it, once")
    token.add_argument("--data", help="folder of the database")
    token.add_argument("--role", required=True, choices=("operator", "bot", "organiser", "member"))
    token.add_argument("--group", help="the group, for organisers and members")
    token.add_argument("--member", help="the member whose token it is")
    token.set_defaults(run=_token)

    backup = commands.add_parser("backup", help="copy the database to a file, also while serving")
    backup.add_argument("file")
    backup.add_argument("--data", help="folder of the database")
    backup.set_defaults(run=_backup)

    restore = commands.add_parser("restore", help="put a backup back (the service must not run)")
    restore.add_argument("file")
    restore.add_argument("--data", help="folder of the database")
    restore.set_defaults(run=_restore)

    migrate = commands.add_parser("migrate", help="bring the database up to date")
    migrate.add_argument("--data", help="folder of the database")
    migrate.set_defaults(run=_migrate)

    settings = commands.add_parser("settings", help="print every setting, its value and what it does")
    settings.add_argument("--judging", action="store_true", help="the numbers that judging goes by instead")
    settings.set_defaults(run=_settings)
    return parser


def _demo(given: argparse.Namespace) -> int:
    from service.app import run

    return int(run(lambda: _demo_running(given)))


async def _demo_running(given: argparse.Namespace) -> int:
    from bot.api import Client
    from bot.commands.breaks import Page, best_break, numbered_break, random_break, swapped_break
    from bot.console import shown, tab_layout
    from schemas.breaks import BestIn, Filters, RandomIn
    from service.app import Server, address_of, listen, open_house, until_signal
    from service.store.database import remove_database
    from service.usecases.identify import make_token
    from service.usecases.seeding import DEMO_GROUP, seed_demo

    settings = load_settings(data=given.data or _demo_folder(), port=given.port, log_level="warning")
    if given.fresh:
        remove_database(settings.database)
    async with open_house(settings) as house:
        await seed_demo(house)
        token = await make_token(house, "organiser", DEMO_GROUP, "You")
        server = Server(house, listen("127.0.0.1", settings.port, or_free=True))
        address = address_of(server.listening)
        await server.start()
        try:
            layout, width = tab_layout()
            if given.width:
                layout, width = ("wide", given.width) if given.width >= WIDE_FROM else ("phone", given.width)
            page, asked = Page(layout, width), _asked(given)
            async with Client(address, token) as client:
                if given.swap:
                    reply = await swapped_break(client, DEMO_GROUP, given.swap, given.phrase, page)
                elif given.number:
                    plain = Filters(instrument=given.instrument)
                    reply = await numbered_break(client, DEMO_GROUP, given.tune, given.number, plain, page)
                elif given.best:
                    best = BestIn(by=given.best, how_many=1, **asked)
                    reply = await best_break(client, DEMO_GROUP, given.tune, best, page)
                else:
                    wish = RandomIn(seed=given.seed, favour=given.favour, **asked)
                    reply = await random_break(client, DEMO_GROUP, given.tune, wish, page)
            if not reply.failed:
                reply = replace(reply, notes=(*reply.notes, *_what_next(given, reply.code)))
            print(shown(reply, min(width, 100)), end="", flush=True)
            if reply.failed:
                return 1
            if not given.no_serve and sys.stdout.isatty():
                print(f"\nServing {address} with token {token}\nCtrl-C ends it.", flush=True)
                await until_signal()
        finally:
            await server.stop()
    return 0


def _asked(given: argparse.Namespace) -> dict[str, Any]:
    """What was asked of the demo's break."""
    return {
        "instrument": given.instrument,
        "max_level": given.max_level,
        "repeats": given.repeats,
        "no_repeats": given.no_repeats,
        "melody": None if given.melody is None else given.melody / 100,
    }


def _demo_folder() -> str:
    """A folder of the demo's own in the user's data folder."""
    import os

    base = os.environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return str(Path(base) / "breakwright" / DEMO_FOLDER)


def _count(text: str, most: int = WIDEST) -> int:
    """A whole number above 0, as argparse wants it checked."""
    if not (text.isascii() and text.isdigit() and 0 < int(text) <= most):
        raise argparse.ArgumentTypeError(f"give a whole number from 1 to {most}")
    return int(text)


def _digits(text: str) -> str:
    """A number of any length from 1 on, with or without commas, as it travels."""
    digits = text.replace(",", "")
    if not (digits.isascii() and digits.isdigit() and digits.strip("0")):
        raise argparse.ArgumentTypeError("give a whole number from 1 on")
    return digits


def _tempo(text: str) -> int:
    return _count(text, FASTEST)


def _percent(text: str) -> int:
    return _count(text, 100)


def _number(text: str) -> int:
    """A lick's number."""
    return _count(text, HIGHEST_LICK)


def _columns(text: str) -> int:
    """A width for the tab, as argparse wants it checked."""
    from service.notation.tab_writer import PHONE_WIDTH

    if not (text.isascii() and text.isdigit() and PHONE_WIDTH <= int(text) <= WIDEST):
        raise argparse.ArgumentTypeError(f"give a whole number from {PHONE_WIDTH} to {WIDEST}")
    return int(text)


def _what_next(given: argparse.Namespace, code: str | None) -> tuple[str, ...]:
    """Commands to try, each with what was chosen this time."""
    chosen = {"tune": given.tune if given.tune != DEMO_TUNES[0] else None, "instrument": given.instrument}
    levels = {
        "max-level": given.max_level, "repeats": given.repeats, "melody": given.melody,
        "no-repeats": given.no_repeats,
    }  # fmt: skip
    other = next(tune for tune in DEMO_TUNES if tune != given.tune)
    easier = max(1, given.max_level - 1) if given.max_level else 2
    suggestions = [("Another break", chosen | levels), ("Another tune", chosen | levels | {"tune": other})]
    if given.max_level != 1:
        suggestions.append(("Easier", chosen | {"max-level": easier}))
    if given.best != "melody":
        suggestions.append(("Closest to the tune", chosen | levels | {"best": "melody"}))
    suggestions.append(("With another tag", {"tune": chosen["tune"], "swap": code}))
    return (
        *(f"{name}: {_demo_command(options)}" for name, options in suggestions),
        "Take it slowly at first, rest between rounds, and stop if anything hurts or goes numb.",
    )


def _demo_command(options: dict[str, object]) -> str:
    told = (f"--{name}" if value is True else f"--{name} {value}" for name, value in options.items() if value)
    return " ".join(["breakwright demo", *told])


def _serve(given: argparse.Namespace) -> int:
    from service.app import run

    return int(run(lambda: _serving(given)))


async def _serving(given: argparse.Namespace) -> int:
    from service.app import Server, address_of, listen, open_house, until_signal
    from service.usecases.facts import fill_facts
    from service.usecases.identify import first_token

    settings = load_settings(data=given.data, host=given.host, port=given.port)
    try:
        listening = listen(settings.host, settings.port)
    except OSError as error:
        return _complain(
            f"cannot listen on {settings.host} port {settings.port} ({error.strerror}); "
            f"choose another with --port or {PREFIX}PORT"
        )
    async with open_house(settings) as house:
        token = await first_token(house)
        server = Server(house, listening)
        await server.start()
        judging = asyncio.create_task(fill_facts(house), name="judging")
        print(f"Serving {address_of(listening)}", flush=True)
        if token is not None:
            print(f"Operator token, shown this once: {token}", flush=True)
        try:
            await until_signal()
        finally:
            judging.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await judging
            await server.stop()
    return 0


def _text_of(file: str) -> str:
    """The text in a file, or what is piped in. Raises _NoText with what to say."""
    try:
        return sys.stdin.read() if file == "-" else Path(file).read_text("utf-8")
    except OSError as error:
        raise _NoText(f"cannot read {file}: {error.strerror}") from None
    except UnicodeDecodeError:
        raise _NoText(f"{file} is not text in UTF-8; save it as plain text") from None


class _NoText(Exception):
    pass


def _say_faults(error: BreakwrightError) -> int:
    """Every place to mend, on the error output. An error without places is raised on."""
    if not error.at:
        raise error
    for fault in error.at:
        where = f"line {fault.line}, column {fault.column}" if fault.line else "in all"
        print(f"{where}: {said(fault)}", file=sys.stderr)
        if fault.excerpt:
            print(f"    {fault.excerpt}", file=sys.stderr)
    return 1


def _judge(given: argparse.Namespace) -> int:
    from service.judging_commands import judge_file

    try:
        text = _text_of(given.file)
    except _NoText as nothing:
        return _complain(str(nothing))
    try:
        return judge_file(given, text)
    except BreakwrightError as error:
        return _say_faults(error)


def _licks(given: argparse.Namespace) -> int:
    from service.judging_commands import show_licks

    settings = _settings_for(given)
    if not settings.database.exists():
        return _complain(f"there is no database in {_folder_of(given)}; start the service there first")
    return asyncio.run(show_licks(given, settings))


def _read_tab(given: argparse.Namespace) -> int:
    import msgspec

    from service.notation.tab_writer import PHONE_WIDTH, write_tab
    from service.usecases.readings import read_any
    from service.web.show import reading_out

    try:
        text = _text_of(given.file)
    except _NoText as nothing:
        return _complain(str(nothing))
    try:
        reading = read_any(
            text,
            given.instrument,
            tuning=given.tuning,
            meter=given.meter,
            measures=given.measures,
            columns=given.columns,
        )
    except BreakwrightError as error:
        return _say_faults(error)
    if given.json:
        print(msgspec.json.encode(reading_out(reading, "en")).decode())
        return 0
    passage = reading.passage
    notes, measures = len(passage.notes), reading.measures
    print(f"{notes} notes in {measures} measure{'s' if measures != 1 else ''} for {passage.instrument.name}.")
    for fault in reading.warnings:
        print(f"{f'line {fault.line}: ' if fault.line else ''}{said(fault)}")
    print("\n" + write_tab(passage, width=max(PHONE_WIDTH, 80), phone=False), end="")
    return 0


def _settings_for(given: argparse.Namespace) -> Settings:
    return load_settings(data=given.data)


def _token(given: argparse.Namespace) -> int:
    if (given.role in ("organiser", "member")) != (given.group is not None):
        return _complain("organisers and members belong to a group (--group); operators and bots to none")
    if given.member is not None and given.group is None:
        return _complain("a member belongs to a group: add --group")
    if not _settings_for(given).database.exists():
        return _complain(f"there is no database in {_folder_of(given)}; start the service there first")
    return asyncio.run(_making_token(given))


async def _making_token(given: argparse.Namespace) -> int:
    from service.app import open_house
    from service.usecases.identify import make_token

    async with open_house(_settings_for(given)) as house:
        print(await make_token(house, given.role, given.group, given.member))
    return 0


def _backup(given: argparse.Namespace) -> int:
    from service.store.database import back_up

    source = _settings_for(given).database
    if not source.exists():
        return _complain(f"there is no database at {source}")
    try:
        back_up(source, Path(given.file))
    except (sqlite3.Error, OSError) as error:
        return _complain(f"cannot copy {source} to {given.file}: {error}")
    print(f"Copied to {given.file}")
    return 0


def _restore(given: argparse.Namespace) -> int:
    from service.store.database import restore

    target = _settings_for(given).database
    problem = restore(Path(given.file), target)
    if problem:
        return _complain(problem)
    print(f"Restored to {target}")
    return 0


def _migrate(given: argparse.Namespace) -> int:
    from service.store.database import connect
    from service.store.migrate import migrate

    path = _settings_for(given).database
    path.parent.mkdir(parents=True, exist_ok=True)
    connection = connect(path)
    try:
        applied = migrate(connection)
    finally:
        connection.close()
    print("\n".join(applied) if applied else "Up to date.")
    return 0


def _settings(given: argparse.Namespace) -> int:
    if given.judging:
        from service.terms import terms

        for term in terms():
            print(f"{term.module}.{term.name} = {term.value}" + (f"\n    {term.said}" if term.said else ""))
        return 0
    for name, value, default, text in described(load_settings()):
        changed = "" if value == default else f" (default {default})"
        print(f"{name}={value}{changed}\n    {text}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
