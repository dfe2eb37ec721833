"""The chat at a terminal, as a newcomer types it: real processes, a real service behind them."""

import codecs
import os
import pty
import re
import select
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Self

import pytest

from bot.commands.book import book
from bot.console import in_local_time
from bot.replies import moment
from service.usecases.identify import make_token
from service.usecases.seeding import seed_players
from tests.support import RunningService, seeded

HOUSE = Path(__file__).parents[2]
GOOD = "4 - 2 3 5 1 2 1, 3 - 5 2 3 - - -"  # over G G
FAULTY = GOOD.replace("5 1", "? 1")
CTRL_C, CTRL_D = "\x03", "\x04"
PATIENCE_S = 180
SETTLED_S = 1.0  # from a prompt on the screen until a line is waited for, where a key is no part of a line


class Typing:
    """A process with a terminal of its own, at which things are typed."""

    def __init__(self, *arguments: str, cwd: Path = HOUSE) -> None:
        self._ours, theirs = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "service", *arguments],
            stdin=theirs, stdout=theirs, stderr=theirs, cwd=cwd, start_new_session=True,
            preexec_fn=_take_terminal, env={**os.environ, "TERM": "dumb", "LANG": "C.UTF-8", "TZ": "UTC"},
        )  # fmt: skip
        os.close(theirs)
        self.shown = ""
        self._decoder = codecs.getincrementaldecoder("utf-8")()  # a read may end within a character

    def until(self, text: str) -> str:
        """What is shown up to a text, and it; what comes after is left for the next time."""
        deadline = time.monotonic() + PATIENCE_S
        while text not in self.shown:
            ready, _, _ = select.select([self._ours], [], [], max(deadline - time.monotonic(), 0))
            assert ready, f"{text!r} never came; what did:\n{self.shown}"
            self.shown += self._decoder.decode(os.read(self._ours, 65536)).replace("\r\n", "\n")
        before, found, self.shown = self.shown.partition(text)
        return before + found

    def enter(self, *lines: str) -> None:
        for line in lines:
            os.write(self._ours, f"{line}\n".encode())

    def press(self, key: str) -> None:
        os.write(self._ours, key.encode())

    def ends(self) -> int:
        return self.process.wait(PATIENCE_S)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        os.close(self._ours)


def _take_terminal() -> None:
    """The process's own terminal is what it reads from, so that Ctrl-C reaches it, and is not ignored as in what runs in the
    background."""
    import fcntl
    import signal
    import termios

    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    import shutil

    shutil.copyfile(seeded(), tmp_path / seeded().name)
    return tmp_path


def _demo(folder: Path, *more: str) -> tuple[str, ...]:
    return ("demo", "--data", str(folder), "--no-files", "--width", "80", *more)


def test_a_newcomer_draws_a_break_sets_a_challenge_sends_a_variation_and_sees_a_vote(folder: Path) -> None:
    with Typing(*_demo(folder)) as at:
        guide = at.until("You> ")
        assert re.search(r"Serving http://127\.0\.0\.1:\d+ with token \S+", guide)
        told = re.findall(r"(?m)^  (.+)$", guide[guide.index("Four things to type here") :])
        assert len(told) == 4
        at.enter(told[0])
        drawn = at.until("You> ")
        assert "Heron Ferry · key of G · banjo in open G" in drawn
        assert "level 2 at half = 84" in " ".join(drawn.split())
        at.enter(told[1])
        assert "Challenge 1: Heron Ferry" in at.until("Posted for all:")
        assert "Send a variation" in at.until("You> ")
        at.enter("variation send")
        at.until("| ")
        text = re.search(r"as its tab (.+)\)", told[2])
        assert text is not None
        at.enter(text[1], ".", "My first", "", "")
        assert (
            "Variation 1 for challenge 1: My first, by You." in at.until("You> ").split("Posted for all:")[1]
        )
        at.enter("as Wren")
        at.until("Wren> ")
        at.enter("variation vote 1")
        assert "Your vote is in: My first." in at.until("Wren> ")
        at.enter("as You", "challenge close", "1", "favourites", "quit")
        ended = at.until("You> quit")
        assert re.search(r"1\. My first, by You: 1", ended)
        assert at.ends() == 0


def test_a_number_presses_what_has_it_below_the_last_answer(folder: Path) -> None:
    with Typing(*_demo(folder)) as at:
        at.until("You> ")
        at.enter("break random heron-ferry level=2 seed=4")
        first = at.until("You> ")
        number = re.search(r"(\d+) Swap a lick", first)
        assert number is not None
        at.enter(number[1])
        swaps = at.until("You> ")
        assert "Play here instead:" in swaps
        at.enter("1")
        assert _code(at.until("You> ")) != _code(first)
        at.enter("999")
        assert "There is no 999 to press" in at.until("You> ")


def _code(text: str) -> str:
    found = re.search(r"code\s+([0-9A-Z]{8})", text)
    assert found is not None, text
    return found[1]


def test_a_faulty_tab_is_marked_and_mended_with_nothing_typed_anew(folder: Path) -> None:
    with Typing(*_demo(folder)) as at:
        at.until("You> ")
        at.enter("challenge set heron-ferry 1")
        at.until("Posted for all:")
        at.until("You> ")
        at.enter("variation send", FAULTY, ".", "My first", "A word.", "")
        marked = at.until("You> ")
        assert f"\n{FAULTY}\n{' ' * FAULTY.index('?')}^" in marked
        number = re.search(r"(\d+) Mend it", marked)
        assert number is not None
        at.enter(number[1])
        assert FAULTY in at.until("| ")
        at.enter(GOOD, ".", "", "", "")  # Enter alone keeps what is there
        assert "My first, by You." in at.until("You> ")


def test_ctrl_c_drops_a_line_and_leaves_a_form_and_ctrl_d_ends(folder: Path) -> None:
    with Typing(*_demo(folder)) as at:
        at.until("You> ")
        at.press("break ran")
        time.sleep(SETTLED_S)
        at.press(CTRL_C)
        assert "Dropped." in at.until("You> ")
        at.enter("variation send")
        at.until("| ")
        time.sleep(SETTLED_S)
        at.press(CTRL_C)
        assert "Left as it was." in at.until("You> ")
        at.press(CTRL_D)
        assert at.ends() == 0


def test_without_a_terminal_the_demo_plays_its_session_through_each_time(folder: Path) -> None:
    for challenge in (1, 2):
        done = subprocess.run(
            [sys.executable, "-m", "service", *_demo(folder)],
            stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=PATIENCE_S, cwd=HOUSE,
        )  # fmt: skip
        assert (done.returncode, done.stderr) == (0, "")
        assert "Serving" not in done.stdout
        typed = re.findall(r"(?m)^(\w+)> (.*)$", done.stdout)
        assert [line for who, line in typed if who == "You"][:3] == [
            "break random heron-ferry level=2 seed=12", "challenge set heron-ferry 1", "variation send",
        ]  # fmt: skip
        assert len([line for _, line in typed if line.startswith("variation vote ")]) == 5
        rounded = done.stdout.split(f"Challenge {challenge}, Heron Ferry, is over.")[1]
        assert re.search(r"1\. Slow to leave, by You: 3\n2\. Rope over the post, by Wren: 2", rounded)
        assert "has no use" not in done.stdout
        assert "know no" not in done.stdout


# --- chat: to a service that runs somewhere ----------------------------------------------------------------------


def _chat(*arguments: str, typed: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "service", "chat", *arguments],
        input=typed, capture_output=True, text=True, timeout=PATIENCE_S, cwd=HOUSE,
    )  # fmt: skip


@contextmanager
def _with_tokens(folder: Path) -> Iterator[tuple[RunningService, str, str]]:
    """A service with the demo's players, a bot's token and a member's."""
    with RunningService(folder, demo=True) as service:
        service.call(lambda: seed_players(service.house, ("You", "Wren")))
        bot = service.call(lambda: make_token(service.house, "bot", None, None))
        wren = service.call(lambda: make_token(service.house, "member", "ferry-lane", "Wren"))
        yield service, bot, wren


def test_a_member_types_with_their_own_token_and_files_are_written(tmp_path: Path) -> None:
    with _with_tokens(tmp_path / "data") as (service, _, wren):
        told = ("--service", service.address, "--token", wren, "--files", f"{tmp_path}/jam", "--width", "40")
        done = _chat(*told, typed="break random Heron Ferry seed=4\nas Otter\nhelp lick show\n")
        code = _code(done.stdout)
        sheet = _chat(*told, typed=f"break sheet {code}\n")
    assert done.returncode == sheet.returncode == 0, done.stderr
    assert done.stdout.startswith("Wren> break random Heron Ferry seed=4\nHeron Ferry · key of G · banjo")
    assert "I know no “as”." in done.stdout  # whoever holds a member's token is that member
    assert "lick show LICK\n" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 40
    written = list((tmp_path / "jam").iterdir())
    assert [path.suffix for path in written] == [".pdf"]
    assert re.search(rf"Sheet:\s+{tmp_path}/jam/", sheet.stdout)
    assert written[0].read_bytes().startswith(b"%PDF")


def test_a_bot_speaks_for_somebody_by_name_on_a_platform(tmp_path: Path) -> None:
    with _with_tokens(tmp_path) as (service, bot, _):
        told = ("--service", service.address, "--token", bot)
        here = _chat(*told, "--as", "Wren", typed="tune list\nas Stranger\ntune list\n")
        elsewhere = _chat(*told, "--as", "Wren", "--server", "there", typed="tune list\n")
        nobody = _chat(*told)
    assert "Heron Ferry" in here.stdout
    assert "You have not joined the group yet." in here.stdout.split("Stranger> tune list")[1]
    assert "This server has no group yet." in elsewhere.stdout
    assert (nobody.returncode, "say who with --as" in nobody.stderr) == (2, True)


def test_where_no_service_answers_or_the_token_is_wrong_one_sentence_says_so(tmp_path: Path) -> None:
    with RunningService(tmp_path, demo=True) as service:
        wrong = _chat("--service", service.address, "--token", "nonsense")
        operator = service.call(lambda: make_token(service.house, "operator", None, None))
        no_member = _chat("--service", service.address, "--token", operator)
        address = service.address
    gone = _chat("--service", address, "--token", "nonsense")
    nowhere = _chat("--service", "127.0.0.1:8420", "--token", "nonsense")
    for done, says in (
        (nowhere, "is no address of a service"),
        (wrong, "token"),
        (no_member, "Take a member's"),
        (gone, "No service answers at"),
    ):
        assert done.returncode == 2
        assert says in done.stderr
        assert "Traceback" not in done.stderr


def test_moments_are_said_by_the_terminals_own_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "Europe/Lisbon")
    time.tzset()
    try:
        assert in_local_time(f"Until {moment('2026-07-01T18:00:00Z')}.") == "Until 2026-07-01 19:00 WEST."
    finally:
        monkeypatch.undo()
        time.tzset()


def test_help_names_every_command_that_can_be_typed(tmp_path: Path) -> None:
    families = dict.fromkeys(command.name.split()[0] for command in book().listed)
    with _with_tokens(tmp_path) as (service, _, wren):
        told = ("--service", service.address, "--token", wren)
        done = _chat(*told, typed="".join(f"help {family}\n" for family in families))
        plain = _chat(*told, typed="help\n")
    for command in book().listed:
        assert re.search(rf"(?m)^{command.name}\b", done.stdout), command.name
    assert "A number presses what has it below an answer." in plain.stdout
    assert "1. A fresh break of a tune: break random." in plain.stdout


TUNE = (
    ("tune add", "The name of the tune: "),
    ("Bracken Lane", "The key it sounds in: "),
    ("G", "\n| "),
    ("A: | G | C | G | D | G | C | D | G |", "\n| "),
    ("B: | G | G | C | C | G | Em | D | G |", "\n| "),
    ("order: A A B B", "\n| "),
    (".", "ends it)\n| "),
    (
        "A: d2; g2 a b c2 b a, c2 e2 c4, b2 g2 d2 >b2, a4 a2 <d2, g2 a b c2 b a, c2 e2 c2 b2, a2 f2 d2 f2, g4 .2;",
        "\n| ",
    ),
    (
        "B: >d2 b2 d2 b2, d2 g2 d4, e2 c2 e2 c2, e2 g2 e4, d2 b2 g2 b2, e2 d2 b2 g2, a2 f2 d2 f2, g6 .2",
        "\n| ",
    ),
    (".", "You> "),
    ("7", "You> "),
    ("4", "You> "),
)


def test_the_tune_in_the_readme_is_typed_in_and_comes_back_as_it_says(folder: Path, tmp_path: Path) -> None:
    readme = (HOUSE / "README.md").read_text()
    block = readme.split("## Your own tune", 1)[1].split("```text\n", 1)[1].split("```", 1)[0]
    with Typing(*_demo(folder, "--files", "jam", "--width", "42"), cwd=tmp_path) as at:
        printed = at.until("You> ")
        for line, then in TUNE:
            at.enter(line)
            printed += at.until(then)
        at.enter("quit")
        assert at.ends() == 0
    typed = {f"{before}{line}" for line, _ in TUNE for before in ("", "| ", "You> ")}
    place = 0
    for line in block.splitlines():
        if line == "..." or line in typed or any(line.endswith(f": {one}") for one, _ in TUNE):
            continue
        assert line in printed[place:], line
        place = printed.index(line, place) + len(line)
    for name in ("bracken-lane-06WWPJGX-1.png", "bracken-lane-06WWPJGX.mp3"):
        assert (tmp_path / "jam" / name).stat().st_size > 10_000
