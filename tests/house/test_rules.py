"""The house's own rules: who may import whom, every sentence there, every setting told, types and style."""

import ast
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path
from types import ModuleType

import pytest

from bot.commands.book import book
from bot.settings import BotSettingsError, load_bot_settings, told
from service import sentences
from service.settings import Settings, described, load_settings
from service.wording import SENTENCES, fields, say
from tests.support import missing_part

HOUSE = Path(__file__).resolve().parents[2]

# What a folder's modules may import of the project itself, and of the world outside the standard library.
WALLS: dict[str, tuple[set[str], set[str]]] = {
    "schemas": ({"schemas"}, {"msgspec"}),
    "service/music": ({"service.music", "service.errors"}, set()),
    "service/notation": ({"service.notation", "service.music", "service.errors"}, {"defusedxml", "mido"}),
    "service/judge": ({"service.judge", "service.music", "service.errors"}, {"numpy"}),
    "service/compose": ({"service.compose", "service.judge", "service.music", "service.errors"}, {"numpy"}),
    "service/arrange": ({"service.arrange", "service.judge", "service.music", "service.errors"}, {"numpy"}),
    "service/engrave": ({"service.engrave", "service.music", "service.errors"}, {"typst"}),
    "service/sound": ({"service.sound", "service.music", "service.errors"}, {"numpy", "soundfile"}),
    "service/groups": ({"service.groups"}, set()),
    "service/store": ({"service.store", "service.errors"}, {"aiosqlite"}),
    "service/usecases": (
        {"service.usecases", "service.store", "service.compose", "service.arrange", "service.judge", "service.notation",
         "service.music", "service.groups", "service.engrave", "service.sound", "service.errors", "service.clock",
         "service.settings"},
        {"msgspec", "numpy"},
    ),
    "service/jobs": ({"service.jobs", "service.usecases", "service.store", "service.clock"}, set()),
    "service/web": (
        {"service.web", "service.usecases", "service.engrave", "service.compose", "service.arrange", "service.judge", "service.notation",
         "service.music", "service.groups", "service.store", "service.errors", "service.wording", "service.logs",
         "service.clock", "schemas"},
        {"litestar", "msgspec"},
    ),
    "bot": ({"bot", "schemas"}, {"aiohttp", "msgspec", "discord", "yarl"}),
}  # fmt: skip


def _imports(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


@pytest.mark.parametrize("folder", WALLS)
def test_a_folder_imports_only_what_its_wall_lets_in(folder: str) -> None:
    ours, libraries = WALLS[folder]
    wrong = []
    for path in (HOUSE / folder).rglob("*.py"):
        for name in _imports(path):
            top = name.split(".")[0]
            if top in ("service", "bot", "schemas"):
                if not any(name == allowed or name.startswith(f"{allowed}.") for allowed in ours):
                    wrong.append((path.name, name))
            elif top not in sys.stdlib_module_names and top not in libraries:
                wrong.append((path.name, name))
    assert wrong == []


def test_litestar_is_imported_in_the_web_layer_alone() -> None:
    elsewhere = [
        path.name
        for path in (HOUSE / "service").rglob("*.py")
        if "web" not in path.parts and any(name.split(".")[0] == "litestar" for name in _imports(path))
    ]
    assert elsewhere == []


def test_the_chat_library_is_imported_on_the_chats_side_alone() -> None:
    elsewhere = [
        path.name
        for path in (HOUSE / "bot").rglob("*.py")
        if "discord_side" not in path.parts
        and any(name.split(".")[0] in ("discord", "yarl") for name in _imports(path))
    ]
    assert elsewhere == []


def test_only_the_command_line_imports_the_bot() -> None:
    users = [
        path.relative_to(HOUSE).as_posix()
        for path in (HOUSE / "service").rglob("*.py")
        if any(name.split(".")[0] == "bot" for name in _imports(path))
    ]
    assert users == ["service/__main__.py"]


def test_what_benchmarks_alone_need_is_imported_there_alone() -> None:
    users = {
        path.relative_to(HOUSE).as_posix()
        for folder in ("service", "bot", "schemas", "tests")
        for path in (HOUSE / folder).rglob("*.py")
        if {"matplotlib", "ortools"} & {name.split(".")[0] for name in _imports(path)}
    }
    others = {path for path in users if not path.startswith("tests/bench/")}
    assert others == {"tests/compose/test_by_constraint_solver.py"}


def test_sql_stands_in_the_store_alone() -> None:
    sql = re.compile(r"\b(SELECT .* FROM|INSERT INTO|UPDATE \w+ SET|DELETE FROM|CREATE TABLE)\b")
    elsewhere = [
        path.relative_to(HOUSE).as_posix()
        for folder in ("service", "bot", "schemas")
        for path in (HOUSE / folder).rglob("*.py")
        if "store" not in path.parts and sql.search(path.read_text())
    ]
    assert elsewhere == []


def test_no_module_is_longer_than_500_lines() -> None:
    long = [
        path.name
        for folder in ("service", "bot", "schemas")
        for path in (HOUSE / folder).rglob("*.py")
        if len(path.read_text().splitlines()) > 500
    ]
    assert long == []


def test_importing_opens_nothing() -> None:
    """No file, socket or thread comes into being by importing the service."""
    code = (
        "import threading, sys, os\n"
        "before = set(os.listdir('/proc/self/fd'))\n"
        "import service.app, service.web.application, service.usecases.seeding, bot.api\n"
        "assert threading.active_count() == 1, threading.enumerate()\n"
        "print(len(set(os.listdir('/proc/self/fd')) - before))\n"
    )
    if not Path("/proc/self/fd").exists():
        missing_part("needs /proc to see open files")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=HOUSE)
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) <= 1


# --- words ---------------------------------------------------------------------------------------------

_RAISED = re.compile(
    r"(?:Fault|DomainError|NotFound|TakenDown|Erased|Forbidden|Unauthenticated|Conflict|PreconditionNeeded|Busy|BreakwrightError|"
    r'\.fault|self\._fault|sentence|Hurt|Finding)\(\s*\(?"([a-z][a-z0-9-]+)"'
)


def _codes_in_code() -> set[str]:
    text = "\n".join(p.read_text() for p in (HOUSE / "service").rglob("*.py") if p.parent.name != "sentences")
    return (
        set(_RAISED.findall(text))
        | _codes_given_names()
        | {f"assumed-{part}" for part in re.findall(r'Assumption\(\s*"([a-z-]+)"', text)}
    )


def _codes_given_names() -> set[str]:
    """Codes that are first put into a variable called ``code``."""
    found: set[str] = set()
    for path in (HOUSE / "service").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Assign) and any(
                isinstance(name, ast.Name) and name.id == "code" for name in ast.walk(node.targets[0])
            ):
                texts = [n.value for n in ast.walk(node.value) if isinstance(n, ast.Constant)]
                found.update(t for t in texts if isinstance(t, str) and re.fullmatch(r"[a-z]+(-[a-z]+)+", t))
    return found


def test_every_code_that_is_raised_has_a_sentence() -> None:
    assert _codes_in_code() - set(SENTENCES) == set()
    assert len(_codes_in_code()) > 60


_FAMILY = re.compile(
    r"^(assumed|limit|harder|moved|change|part|role|credit-tune|sheet|row|post|work-up|proposed|named)-"
)  # codes made from a family and a name


def test_every_sentence_belongs_to_a_code_somewhere() -> None:
    text = "\n".join(p.read_text() for p in (HOUSE / "service").rglob("*.py") if p.parent.name != "sentences")
    unused = [
        code for code in SENTENCES if f'"{code}"' not in text and f'"{_FAMILY.sub("", code)}"' not in text
    ]
    assert unused == []


def test_everything_that_limits_hands_or_raises_a_level_has_a_sentence() -> None:
    from service.judge.easier import STEPS
    from service.judge.left_hand import left_hand
    from service.judge.level import POINTS
    from service.judge.right_hand import right_hand
    from tests.judge.material import made_licks

    harder = {f"harder-{name}" for name in POINTS if not name.startswith("start")}
    limits = {
        f"limit-{moment.why}"
        for lick in made_licks(200)
        for moment in (
            *left_hand(lick.notes, lick.instrument).moments,
            *right_hand(lick.notes, [lick.style] * len(lick.notes)).moments,
        )
        if moment.why not in ("", "place")
    }
    assert len(limits) > 3
    assert (harder | limits | set(STEPS)) - set(SENTENCES) == set()


def test_no_code_has_two_sentences() -> None:
    modules = [m for m in vars(sentences).values() if isinstance(m, ModuleType) and hasattr(m, "SENTENCES")]
    codes = [code for module in modules for code in module.SENTENCES]
    assert len(modules) > 10
    assert [code for code, times in Counter(codes).items() if times > 1] == []


def test_a_sentence_can_be_said_with_its_parameters() -> None:
    for code, (text, advice) in SENTENCES.items():
        params = {name: f"<{name}>" for name in fields(text) | fields(advice)}
        assert "{" not in say(code, params)


# --- settings and documents ----------------------------------------------------------------------------


def test_every_setting_has_a_help_text_and_stands_in_the_contributors_guide() -> None:
    guide = (HOUSE / "DEVELOPERS.md").read_text()
    for name, value, default, text in described(load_settings({})):
        assert text, name
        assert value == default
        assert name in guide, name
        assert text in guide, name


def test_every_setting_of_the_bot_does_too_and_secrets_are_not_told() -> None:
    guide = (HOUSE / "DEVELOPERS.md").read_text()
    for name, shown, default, text in told(load_bot_settings({})):
        assert text, name
        assert shown == default
        assert f"| `{name}` | {text}" in guide, name
    secret = load_bot_settings({"BREAKWRIGHT_BOT_TOKEN": "a-secret"})
    assert "a-secret" not in str(told(secret))
    with pytest.raises(BotSettingsError, match="BREAKWRIGHT_BOT_TOKN is no setting"):
        load_bot_settings({"BREAKWRIGHT_BOT_TOKN": "x"})


def test_every_command_that_can_be_typed_stands_in_the_readme() -> None:
    readme = (HOUSE / "README.md").read_text()
    section = readme[readme.index("## In the chat") : readme.index("## Reading tab")]
    for command in book().listed:
        family, _, name = command.name.partition(" ")
        assert f"`{name or family}`" in section, command.name


def test_the_invitation_asks_for_what_the_bot_needs_and_no_more() -> None:
    import discord

    needed = discord.Permissions(
        view_channel=True, send_messages=True, send_messages_in_threads=True, create_public_threads=True,
        attach_files=True, read_message_history=True,
    )  # fmt: skip
    assert f"permissions={needed.value}" in (HOUSE / "README.md").read_text()


def test_every_dependency_is_given_a_reason() -> None:
    import tomllib

    project = tomllib.loads((HOUSE / "pyproject.toml").read_text())["project"]
    guide = (HOUSE / "DEVELOPERS.md").read_text()
    optional = project["optional-dependencies"]
    for requirement in (*project["dependencies"], *optional["test"], *optional["bench"]):
        name = re.split(r"[<>=;\[ ]", requirement)[0]
        if name == project["name"]:
            continue
        assert f"| `{name}` |" in guide, name


def test_settings_come_from_the_environment_and_arguments_win() -> None:
    settings = load_settings({"BREAKWRIGHT_PORT": "9", "BREAKWRIGHT_HOST": "::1"}, port=10)
    assert (settings.port, settings.host) == (10, "::1")
    assert settings == Settings(port=10, host="::1")


# --- checkers ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "command",
    [("ruff", "check", "."), ("ruff", "format", "--check", "."), ("mypy",)],
    ids=["lint", "format", "types"],
)
def test_the_checkers_have_nothing_to_say(command: tuple[str, ...]) -> None:
    done = subprocess.run([sys.executable, "-m", *command], cwd=HOUSE, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
