"""The command line: ``breakwright demo | chat | bot | serve | read-tab | judge | licks | import-licks | token | backup | restore | migrate | settings``."""

import argparse
import asyncio
import contextlib
import signal
import sqlite3
import sys
from pathlib import Path

from service.command_line import parser
from service.errors import BreakwrightError
from service.settings import PREFIX, Settings, SettingsError, described, load_settings
from service.wording import said


def main(arguments: list[str] | None = None) -> int:
    """Run a command; the process's exit status."""
    given = parser().parse_args(arguments)
    try:
        status: int = RUN[given.command](given)
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


def _demo(given: argparse.Namespace) -> int:
    from bot.beside import Beside
    from bot.demo import demo, read_story
    from service.demo_command import not_together, served
    from service.usecases.seeding import session_text

    wrong = not_together(given)
    if wrong is not None:
        return _complain(wrong)
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, lambda *_: sys.exit(0))  # what is under way is finished first
    story = read_story(session_text())
    with Beside() as beside, beside.within(served(given, story.players)) as service:
        return demo(given, story, beside, service)


def _chat(given: argparse.Namespace) -> int:
    from bot.beside import Beside
    from bot.chat_command import CannotTalk, chat

    try:
        with Beside() as beside:
            chat(given, beside)
    except CannotTalk as error:
        return _complain(str(error))
    return 0


def _serve(given: argparse.Namespace) -> int:
    from service.app import run

    return int(run(lambda: _serving(given)))


async def _serving(given: argparse.Namespace) -> int:
    from service.app import Server, address_of, listen, open_house, until_signal
    from service.jobs.scheduler import Scheduler
    from service.usecases.facts import fill_facts
    from service.usecases.identify import first_token
    from service.usecases.render_jobs import ready

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
        warming = asyncio.create_task(house.renders.warm(ready), name="warming")
        judging = asyncio.create_task(fill_facts(house), name="judging")
        scheduler = Scheduler(house)
        scheduler.start()
        print(f"Serving {address_of(listening)}", flush=True)
        if token is not None:
            print(f"Operator token, shown this once: {token}", flush=True)
        try:
            await until_signal()
        finally:
            await scheduler.stop()
            for task in (warming, judging):
                task.cancel()
                with contextlib.suppress(asyncio.CancelledError):
                    await task
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


def _import_licks(given: argparse.Namespace) -> int:
    from service.importing_commands import import_folder

    settings = _settings_for(given)
    if not settings.database.exists():
        return _complain(f"there is no database in {_folder_of(given)}; start the service there first")
    if not Path(given.folder).is_dir():
        return _complain(f"there is no folder {given.folder}")
    return asyncio.run(import_folder(given, settings))


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
        print(await make_token(house, given.role, given.group, given.member, given.days, given.scope))
    return 0


def _backup(given: argparse.Namespace) -> int:
    from service.store.database import back_up

    source = _settings_for(given).database
    if not source.exists():
        return _complain(f"there is no database at {source}")
    target = Path(given.file)
    if target.exists() and not given.force:
        return _complain(f"{target} is there already; choose another name, or replace it with --force")
    try:
        size = back_up(source, target)
    except (sqlite3.Error, OSError) as error:
        return _complain(f"cannot copy {source} to {target}: {error}")
    print(f"Copied {size:,} bytes to {target}")
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
    from bot.settings import BotSettingsError, load_bot_settings, told

    try:
        chosen = load_bot_settings()
    except BotSettingsError as error:
        return _complain(str(error))
    for name, shown, default, text in told(chosen):
        changed = "" if shown == default else f" (default {default})"
        print(f"{name}={shown}{changed}\n    {text}")
    return 0


def _bot(given: argparse.Namespace) -> int:
    from bot.__main__ import main as run

    return run()


RUN = {
    "demo": _demo,
    "chat": _chat,
    "bot": _bot,
    "serve": _serve,
    "read_tab": _read_tab,
    "judge": _judge,
    "licks": _licks,
    "import_licks": _import_licks,
    "token": _token,
    "backup": _backup,
    "restore": _restore,
    "migrate": _migrate,
    "settings": _settings,
}


if __name__ == "__main__":
    sys.exit(main())
