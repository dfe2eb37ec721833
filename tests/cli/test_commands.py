"""The command line as a newcomer types it: real processes."""

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

HOUSE = Path(__file__).parents[2]
TAB = "1|-------0-------0|\n2|---0-------0----|\n3|-0--------------|\n4|---------0------|\n5|-----0-------0--|\n"


def _run(
    *arguments: str, stdin: str = "", cwd: Path | None = None, **environment: str
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "service", *arguments],
        input=stdin, capture_output=True, text=True, timeout=60, cwd=cwd,
        env={"PYTHONPATH": str(HOUSE), **os.environ, **environment},
    )  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demo database that is there already."""
    data = tmp_path_factory.mktemp("data")
    assert _run("demo", "--data", str(data), "--no-serve", "--no-files").returncode == 0
    return data


def _demo(folder: Path, *more: str) -> str:
    done = _run("demo", "--data", str(folder), "--no-serve", "--no-files", *more)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_demo_prints_what_a_player_needs_then_the_tab_then_the_rest(folder: Path) -> None:
    first, *rest = _demo(folder, "--seed", "1", "--width", "100").splitlines()
    assert first == (
        "Heron Ferry · key of G · banjo in open G · G position · no capo · fifth string open · half = 84"
    )
    text = "\n".join(rest)
    assert text.index("1|-") < text.index("Number ") < text.index("Another break:")
    assert " of 1,8" in text


def test_millers_mitten_is_in_g_position_with_capo_two_and_the_fifth_string_at_seven(folder: Path) -> None:
    first = _demo(folder, "--tune", "millers-mitten", "--width", "120").splitlines()[0]
    assert "key of A · banjo in open G · G position · capo 2 · fifth string at 7" in first


def test_the_same_seed_repeats_and_another_differs(folder: Path) -> None:
    first, again, other = (_demo(folder, "--seed", s) for s in ("5", "5", "6"))
    assert first == again
    assert first != other


def test_a_seed_means_the_same_in_a_fresh_database(folder: Path, tmp_path: Path) -> None:
    assert _demo(tmp_path, "--fresh", "--seed", "5") == _demo(folder, "--seed", "5")


@pytest.mark.parametrize("tune", ["heron-ferry", "millers-mitten", "thimble-creek"])
@pytest.mark.parametrize("width", ["28", "80"])
def test_what_the_demo_prints_reads_back_to_the_same_notes(folder: Path, tune: str, width: str) -> None:
    printed = _demo(folder, "--seed", "9", "--tune", tune, "--width", width)
    tab = printed[printed.index("\n\n") : printed.index("Number ")]
    whole = _run("read-tab", "-", "--json", stdin=printed)
    alone = _run("read-tab", "-", "--json", stdin=tab)
    assert whole.returncode == alone.returncode == 0, whole.stderr
    assert json.loads(whole.stdout)["notes"] == json.loads(alone.stdout)["notes"]
    other = _demo(folder, "--seed", "9", "--tune", tune, "--width", "80" if width == "28" else "28")
    assert (
        json.loads(_run("read-tab", "-", "--json", stdin=other).stdout)["notes"]
        == json.loads(whole.stdout)["notes"]
    )


def test_no_line_of_the_narrow_demo_is_wider_than_a_phone(folder: Path) -> None:
    assert max(map(len, _demo(folder, "--width", "28").splitlines())) <= 28


def test_an_easy_break_has_no_hard_lick(folder: Path) -> None:
    text = _demo(folder, "--max-level", "2")
    assert "level 2" in text or "level 1" in text
    assert "of them are as you asked" in text


def test_what_to_try_next_keeps_what_was_chosen(folder: Path) -> None:
    text = _demo(folder, "--tune", "thimble-creek", "--max-level", "3", "--width", "100")
    assert "Another break: breakwright demo --tune thimble-creek --max-level 3" in text
    assert "Easier: breakwright demo --tune thimble-creek --max-level 2" in text
    assert "Easier" not in _demo(folder, "--max-level", "1", "--instrument", "guitar")


def test_a_tune_that_is_not_there_is_one_friendly_sentence(folder: Path) -> None:
    done = _run("demo", "--data", str(folder), "--no-serve", "--tune", "nowhere")
    assert done.returncode == 1
    assert "There is no such tune here." in done.stdout
    assert "Traceback" not in done.stderr


def test_read_tab_says_what_it_understood() -> None:
    done = _run("read-tab", "-", stdin=TAB)
    assert done.returncode == 0
    assert "8 notes in 1 measure for five-string banjo." in done.stdout
    assert "Read as: " in done.stdout


def test_read_tab_reads_the_one_line_form_too() -> None:
    done = _run("read-tab", "-", "--meter", "2/2", "--tuning", "open-g", stdin="32514251")
    assert "1|-------0-------0|" in done.stdout


def test_read_tab_says_where_it_failed(tmp_path: Path) -> None:
    path = tmp_path / "roll.txt"
    path.write_text(TAB.replace("2|---0---", "2|---?---"))
    done = _run("read-tab", str(path))
    assert done.returncode == 1
    assert done.stderr.startswith("line 2, column 6: “?” means nothing in a tab row. Use frets")
    assert "2|---?------" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("read-tab", "/no/such/file"), "cannot read"),
        (("read-tab", "-", "--instrument", "kazoo"), "Use one of banjo"),
        (("token", "--role", "member"), "belong to a group"),
        (("token", "--role", "bot", "--group", "x"), "belong to a group"),
        (("backup", "never", "--data", "/no/such/folder"), "no database"),
        (("token", "--role", "operator", "--data", "/no/such/folder"), "start the service there first"),
        (("demo", "--no-serve", "--width", "10"), "give a whole number from 28"),
        (("demo", "--no-serve", "--width=-5"), "give a whole number from 28"),
    ],
)
def test_a_wrong_command_is_told_what_to_do(arguments: tuple[str, ...], says: str) -> None:
    done = _run(*arguments)
    assert done.returncode == 2
    assert says in done.stderr
    assert "Traceback" not in done.stderr


def test_a_folder_that_cannot_be_used_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    for command in (["demo", "--no-serve"], ["serve", "--port", "0"], ["migrate"]):
        done = _run(*command, "--data", str(tmp_path / "file"))
        assert done.returncode == 2
        assert f"cannot use {tmp_path / 'file'}" in done.stderr
        assert "Traceback" not in done.stderr


def test_a_wrong_setting_is_named() -> None:
    done = _run("settings", BREAKWRIGHT_PORT="many")
    assert done.returncode == 2
    assert "BREAKWRIGHT_PORT" in done.stderr
    assert "BREAKWRIGHT_PROT is no setting" in _run("settings", BREAKWRIGHT_PROT="1").stderr


def test_tokens_can_be_made_while_the_service_runs_and_open_it(tmp_path: Path) -> None:
    import urllib.request

    process = subprocess.Popen(
        [sys.executable, "-m", "service", "serve", "--data", str(tmp_path), "--port", "0"],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    address = process.stdout.readline().split()[-1]
    assert process.stdout.readline().startswith("Operator token, shown this once: ")
    made = _run("token", "--data", str(tmp_path), "--role", "operator")
    token = made.stdout.strip()
    assert len(token.split()) == 1
    request = urllib.request.Request(
        address + "/v1/instruments", headers={"Authorization": f"Bearer {token}"}
    )
    with urllib.request.urlopen(request, timeout=10) as response:
        assert response.status == 200
    copy = tmp_path / "copy.sqlite3"
    copied = _run("backup", str(copy), "--data", str(tmp_path))
    assert copied.stdout == f"Copied {copy.stat().st_size:,} bytes to {copy}\n"
    there = _run("backup", str(copy), "--data", str(tmp_path))
    assert (there.returncode, "--force" in there.stderr) == (2, True)
    assert _run("backup", str(copy), "--data", str(tmp_path), "--force").returncode == 0
    refused = _run("restore", str(copy), "--data", str(tmp_path))
    assert "in use" in refused.stderr
    process.send_signal(signal.SIGTERM)
    assert process.wait(20) == 0
    process.stdout.close()
    assert _run("restore", str(copy), "--data", str(tmp_path)).returncode == 0
    assert _run("migrate", "--data", str(tmp_path)).stdout == "Up to date.\n"


def test_a_taken_port_is_said(tmp_path: Path) -> None:
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        done = _run("serve", "--data", str(tmp_path), "--port", port)
        assert done.returncode == 2
        assert f"cannot listen on 127.0.0.1 port {port}" in done.stderr
        assert (
            _run("demo", "--data", str(tmp_path), "--no-serve", "--no-files", "--port", port).returncode == 0
        )


def test_the_demo_shows_the_best_breaks_and_one_with_another_tag(folder: Path) -> None:
    closest = _demo(folder, "--best", "melody")
    again = _demo(folder, "--best", "melody")
    assert closest.split("Another break")[0] == again.split("Another break")[0]
    code = re.search(r"--swap ([0-9A-Z]{8})", closest)
    assert code is not None
    swapped = _demo(folder, "--swap", code.group(1))
    tags = [re.search(r"(?m)^16 .*\((\d+)\):", shown) for shown in (closest, swapped)]
    assert tags[0] is not None
    assert tags[1] is not None
    assert tags[0].group(1) != tags[1].group(1)
    assert closest.split("\n15 ")[0].splitlines()[-20:-2] == swapped.split("\n15 ")[0].splitlines()[-20:-2]
    third = _demo(folder, "--swap", code.group(1), "--phrase", "3")
    assert re.search(r"(?m)^16 .*\(" + tags[0].group(1) + r"\):", third)
    done = _run("demo", "--data", str(folder), "--no-serve", "--swap", "NOPE")
    assert done.returncode == 1
    assert "no such break" in done.stdout


def test_the_demo_shows_number_k_of_all_there_are(folder: Path) -> None:
    shown = _demo(folder, "--seed", "7", "--width", "80")
    number, code = re.search(r"Number ([\d,]+) of [\d,]+, code (\w+)", shown).groups()  # type: ignore[union-attr]
    again = _demo(folder, "--number", number, "--width", "80")
    assert f"Number {number} of" in again
    assert code in again
    done = _run("demo", "--data", str(folder), "--no-serve", "--number", "9" * 30)
    assert done.returncode == 1
    assert "is none of" in " ".join(done.stdout.split())


def test_the_demo_plays_repeats_as_asked_and_says_how_many_do(folder: Path) -> None:
    shown = _demo(folder, "--repeats", "same", "--max-level", "2", "--width", "80")
    licks = [int(number) for number in re.findall(r"^\d+ .*\((\d+)\):", shown, re.MULTILINE)]
    assert licks[:4] == licks[4:8]
    assert licks[8:12] == licks[12:16]
    assert "77,760 of them are as you asked." in shown
    assert "Another break: breakwright demo --max-level 2 --repeats same" in shown
    easier = _demo(folder, "--repeats", "same", "--width", "80")
    assert "Easier: breakwright demo --max-level 2 --repeats same" in easier


def test_what_the_demo_cannot_find_is_one_sentence_with_a_next_step(folder: Path) -> None:
    done = _run("demo", "--data", str(folder), "--no-serve", "--melody", "100", "--width", "80")
    assert done.returncode == 1
    assert "of the melody; phrase" in " ".join(done.stdout.split())
    assert "Ask for no more than that" in " ".join(done.stdout.split())


def test_the_session_in_the_readme_is_what_is_printed(folder: Path, tmp_path: Path) -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text()
    shown = readme.split("```text\n", 1)[1].split("```", 1)[0]
    command, *lines = shown.splitlines()
    assert command.startswith("$ breakwright demo ")
    done = _run(
        "demo", "--data", str(folder), "--no-serve", *command.split()[3:], "--width", "80", cwd=tmp_path
    )
    assert done.returncode == 0, done.stderr
    printed = done.stdout
    pieces = ("\n".join(lines) + "\n").split("...\n")
    assert len(pieces) == 3
    assert printed.startswith(pieces[0])
    assert pieces[1] in printed
    assert printed.endswith(pieces[2])


def test_the_chat_in_the_readme_is_what_the_demo_plays_through(folder: Path) -> None:
    readme = (HOUSE / "README.md").read_text()
    block = readme.split("## In the chat", 1)[1].split("```text\n", 1)[1].split("```", 1)[0]
    command, session = block.split("\n", 1)
    assert command.startswith("$ breakwright demo ")
    done = _run("demo", "--data", str(folder), *command.split()[3:])
    assert (done.returncode, done.stderr) == (0, "")
    at = 0
    for piece in session.split("...\n"):
        assert piece in done.stdout[at:], piece
        at = done.stdout.index(piece, at) + len(piece)
    assert session.count("...\n") == 7


def test_the_demo_writes_picture_sheet_and_sound_and_says_where(folder: Path, tmp_path: Path) -> None:
    done = _run("demo", "--data", str(folder), "--no-serve", "--seed", "4", "--files", "jam", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    text = " ".join(done.stdout.split())
    code = re.search(r"code ([0-9A-Z]{8})", text).group(1)
    stem = f"jam/heron-ferry-{code}"
    assert f"Picture: {stem}-1.png, {stem}-2.png Sheet: {stem}.pdf Sound: {stem}.mp3" in text
    assert (tmp_path / f"{stem}-1.png").read_bytes().startswith(b"\x89PNG")
    assert (tmp_path / f"{stem}.pdf").read_bytes().startswith(b"%PDF")
    assert len((tmp_path / f"{stem}.mp3").read_bytes()) > 100_000
    assert "software cannot know the level at your ear" in text


def test_on_a_terminal_the_demo_serves_until_somebody_leaves(folder: Path) -> None:
    import pty
    import urllib.request

    master, slave = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "service", "demo", "--data", str(folder), "--seed", "1", "--no-files"],
        stdin=slave, stdout=slave, stderr=slave, env={**os.environ, "TERM": "dumb"},
    )  # fmt: skip
    os.close(slave)
    shown = ""
    while "You> " not in shown:
        shown += os.read(master, 4096).decode()
    words = shown.split()
    address, token = words[words.index("Serving") + 1], words[words.index("token") + 1]
    request = urllib.request.Request(
        address + "/v1/instruments", headers={"Authorization": f"Bearer {token}"}
    )
    with urllib.request.urlopen(request, timeout=10) as response:
        assert response.status == 200
    os.write(master, b"quit\n")
    assert process.wait(20) == 0
    os.close(master)


def test_a_demo_that_serves_is_ended_by_a_signal(folder: Path) -> None:
    import pty

    for number in (signal.SIGTERM, signal.SIGHUP):
        master, slave = pty.openpty()
        process = subprocess.Popen(
            [sys.executable, "-m", "service", "demo", "--data", str(folder), "--no-files"],
            stdin=slave, stdout=slave, stderr=slave, env={**os.environ, "TERM": "dumb"},
        )  # fmt: skip
        os.close(slave)
        shown = ""
        while "You> " not in shown:
            shown += os.read(master, 4096).decode()
        time.sleep(
            0.5
        )  # until it waits for what is typed: one that comes just before is noticed with the next key
        process.send_signal(number)
        assert process.wait(20) == 0
        os.close(master)
