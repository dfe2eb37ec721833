"""What may be typed after ``breakwright``: commands, their options, and what each option takes."""

import argparse

from service.groups.permissions import SCOPES
from service.music.meter import METER_NAMES

WIDEST = 1000  # columns
HIGHEST_LICK = 9_999_999
FASTEST = 400  # beats a minute
DEMO_TUNES = ("heron-ferry", "millers-mitten", "thimble-creek")


def parser() -> argparse.ArgumentParser:
    made = argparse.ArgumentParser(
        prog="breakwright",
        description="A jam group's pool of licks, and every break that can be made of it.",
    )
    commands = made.add_subparsers(title="commands", required=True, metavar="COMMAND")

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
        "--favour",
        choices=("melody", "smooth", "fresh", "favourites"),
        help="make breaks likelier that have more of it",
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
    demo.add_argument(
        "--files", metavar="FOLDER", help="where picture, sheet and sound go (files in the demo's folder)"
    )
    demo.add_argument("--no-files", action="store_true", help="make no picture, sheet and sound")
    demo.add_argument("--width", type=_columns, help="columns for the tab; 28 gives one measure a row group")
    demo.add_argument("--port", type=int, help="port of the service (another free one if it is taken)")
    demo.add_argument("--no-serve", action="store_true", help="print the break and stop")
    demo.set_defaults(command="demo", tunes=DEMO_TUNES)

    chat = commands.add_parser("chat", help="type the group's commands here, as in its chat")
    chat.add_argument(
        "--service", default="http://127.0.0.1:8420", help="address of the service (%(default)s)"
    )
    chat.add_argument("--token", required=True, help="a member's token, or a bot's with --as")
    chat.add_argument(
        "--as", dest="name", metavar="NAME", help="with a bot's token: who speaks, by name on the platform"
    )
    chat.add_argument("--platform", default="console", help="with --as: the platform (%(default)s)")
    chat.add_argument("--server", default="here", help="with --as: the group's server there (%(default)s)")
    chat.add_argument(
        "--files", metavar="FOLDER", default="breakwright-files", help="where files go (%(default)s)"
    )
    chat.add_argument("--width", type=_columns, help="columns for the tab; 28 gives one measure a row group")
    chat.set_defaults(command="chat")

    serve = commands.add_parser("serve", help="run the service")
    serve.add_argument("--data", help="folder of the database")
    serve.add_argument("--host", help="address to listen on")
    serve.add_argument("--port", type=int, help="port to listen on")
    serve.set_defaults(command="serve")

    bot = commands.add_parser("bot", help="bring the group's commands into its chat server")
    bot.set_defaults(command="bot")

    read = commands.add_parser("read-tab", help="read a tab or one-line lick and say what was understood")
    read.add_argument("file", help="a file, or - for what is piped in")
    read.add_argument("--instrument", default="banjo", help="banjo (default), guitar, mandolin ...")
    read.add_argument("--tuning", help="open-g, c, double-c, sawmill, open-d, standard, drop-d")
    read.add_argument("--meter", help=", ".join(METER_NAMES))
    read.add_argument("--measures", type=_count, help="whole measures in the tab")
    read.add_argument("--columns", type=_count, help="time columns a measure (8, 16)")
    read.add_argument("--json", action="store_true", help="print the notes as JSON")
    read.set_defaults(command="read_tab")

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
    judge.add_argument("--meter", help=", ".join(METER_NAMES))
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
    judge.set_defaults(command="judge")

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
    licks.set_defaults(command="licks")

    importing = commands.add_parser(
        "import-licks", help="send in a folder of licks and say what became of each"
    )
    importing.add_argument(
        "folder", help=".toml files of [[lick]] tables, .txt tabs, a defaults.toml for both"
    )
    importing.add_argument("--data", help="folder of the database")
    importing.add_argument("--group", required=True, help="the group")
    importing.add_argument("--member", required=True, help="the member who sends them in")
    importing.add_argument("--dry", action="store_true", help="say what would become of them, keep nothing")
    importing.set_defaults(command="import_licks")

    token = commands.add_parser("token", help="make a token and print it, once")
    token.add_argument("--data", help="folder of the database")
    token.add_argument("--role", required=True, choices=("operator", "bot", "organiser", "member"))
    token.add_argument("--group", help="the group, for organisers and members")
    token.add_argument("--member", help="the member whose token it is")
    token.add_argument("--days", type=_days, help="days after which it ends (never without it)")
    token.add_argument(
        "--scope", action="append", choices=tuple(SCOPES), help="hold it to this, and to others given so"
    )
    token.set_defaults(command="token")

    backup = commands.add_parser("backup", help="copy the database to a file, also while serving")
    backup.add_argument("file")
    backup.add_argument("--data", help="folder of the database")
    backup.add_argument("--force", action="store_true", help="replace a file of that name")
    backup.set_defaults(command="backup")

    restore = commands.add_parser("restore", help="put a backup back (the service must not run)")
    restore.add_argument("file")
    restore.add_argument("--data", help="folder of the database")
    restore.set_defaults(command="restore")

    migrate = commands.add_parser("migrate", help="bring the database up to date")
    migrate.add_argument("--data", help="folder of the database")
    migrate.set_defaults(command="migrate")

    settings = commands.add_parser("settings", help="print every setting, its value and what it does")
    settings.add_argument("--judging", action="store_true", help="the numbers that judging goes by instead")
    settings.set_defaults(command="settings")
    return made


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


def _days(text: str) -> int:
    return _count(text, 3650)


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
