"""``breakwright judge`` and the numbers it goes by, as a newcomer types it: real processes."""

import json
from pathlib import Path

import pytest

from tests.cli.test_commands import TAB, _run

ROLL = "32514251"
TORN = "(3.2 2.14) 1 5 1 3 2 5 1, 3-------"


def test_judge_says_of_a_file_what_a_teacher_would_say(tmp_path: Path) -> None:
    path = tmp_path / "roll.txt"
    path.write_text(TAB)
    done = _run("judge", str(path), "--key", "G", "--chords", "| G |")
    assert done.returncode == 0, done.stderr
    assert "1|-------0-------0|" in done.stdout
    assert "   T I T M T I T M" in done.stdout
    assert "Level 1 at half = " in done.stdout
    assert "100 % of what counts is at home in its chords." in done.stdout
    assert "Comfortable up to half = " in done.stdout
    assert "Chords, as they seem" not in done.stdout


def test_judge_reads_what_is_piped_in_and_names_the_chords_that_were_not_given() -> None:
    for text in (TAB, ROLL):
        done = _run("judge", "-", "--key", "G", "--meter", "2/2", stdin=text)
        assert done.returncode == 0, done.stderr
        assert "Chords, as they seem: G (" in done.stdout


def test_judge_prints_the_left_hand_too() -> None:
    done = _run("judge", "-", "--key", "G", "--chords", "| C |", stdin="3 2.1 5 1.2 4.2 2.1 5 1.2")
    (left,) = [line for line in done.stdout.splitlines() if line.startswith("L ")]
    assert set(left) <= set("L 1234")


def test_judge_names_measure_count_and_remedy_of_what_no_hand_can_play() -> None:
    done = _run("judge", "-", "--key", "G", "--chords", "| G | G |", stdin=TORN)
    assert done.returncode == 0, done.stderr
    assert (
        "Measure 1, count 1: no hand stops string 3 at fret 2 and string 2 at fret 14 at once. "
        "Leave one of them out, or bring them closer together."
    ) in " ".join(done.stdout.split())
    assert "No hand can play it as it is written." in done.stdout


def test_judge_says_when_a_tempo_is_too_fast() -> None:
    done = _run("judge", "-", "--key", "G", "--chords", "| G |", "--bpm", "300", stdin=ROLL)
    assert "half = 300 is beyond it." in done.stdout
    slow = _run("judge", "-", "--key", "G", "--chords", "| G |", "--bpm", "60", stdin=ROLL)
    assert "Level 1 at half = 60." in slow.stdout
    assert "beyond" not in slow.stdout


def test_judge_prints_json_for_other_programs() -> None:
    done = _run("judge", "-", "--key", "G", "--chords", "| G |", "--role", "body", "--json", stdin=ROLL)
    found = json.loads(done.stdout)
    assert found["role"] == "body"
    assert found["hands"]["right"] == list("TITMTITM")
    assert found["hands"]["left"] == [0] * 8
    assert found["level"]["tempo"]["unit"] == "half"
    assert found["melody"] is None
    assert found["fit"]["classes"][0] == "root"
    assert all(reason["text"] for reason in found["reasons"])


def test_judge_says_where_a_tab_cannot_be_read(tmp_path: Path) -> None:
    path = tmp_path / "roll.txt"
    path.write_text(TAB.replace("2|---0---", "2|---?---"))
    done = _run("judge", str(path), "--key", "G")
    assert done.returncode == 1
    assert done.stderr.startswith("line 2, column 6: “?” means nothing in a tab row. Use frets")
    assert "2|---?------" in done.stderr
    assert done.stdout == ""


def test_judge_wants_as_many_measures_of_chords_as_the_lick_has() -> None:
    done = _run("judge", "-", "--key", "G", "--chords", "| G | G |", stdin=TAB)
    assert done.returncode == 1
    assert "Give as many measures of chords as the lick has, parted by |" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("arguments", "status", "says"),
    [
        (("/no/such/file", "--key", "G"), 2, "cannot read /no/such/file"),
        (("-", "--key", "Q"), 2, "“Q” is no key."),
        (("-",), 2, "--key"),
        (("-", "--key", "G", "--instrument", "kazoo"), 2, "Use one of banjo"),
        (("-", "--key", "G", "--chords", "| H |"), 1, "line 1, column 3: “H” is no chord."),
        (("-", "--key", "G", "--style", "tremolo"), 1, "Use one of roll, melodic, single-string."),
        (("-", "--key", "G", "--role", "hero"), 2, "--role"),
        (("-", "--key", "G", "--bpm", "0"), 2, "give a whole number from 1"),
    ],
)
def test_a_wrong_judge_command_is_told_what_to_do(arguments: tuple[str, ...], status: int, says: str) -> None:
    done = _run("judge", *arguments, stdin=ROLL)
    assert done.returncode == status
    assert says in done.stderr
    assert "Traceback" not in done.stderr


def test_the_numbers_that_judging_goes_by_are_printed_from_where_they_stand() -> None:
    from service.judge.rules import JUMP_FRETS, LANDING_AIR, LEAST_EIGHTH_MS

    done = _run("settings", "--judging")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    for named in (
        f"service.judge.rules.JUMP_FRETS = {JUMP_FRETS}",
        f"service.judge.rules.LANDING_AIR = {LANDING_AIR}",
        f"service.judge.rules.LEAST_EIGHTH_MS = {LEAST_EIGHTH_MS}",
    ):
        assert named in lines
        assert lines[lines.index(named) + 1].startswith("    ")  # what it is, from the comment beside it
    assert "BREAKWRIGHT_" not in done.stdout
    assert "BREAKWRIGHT_PORT=" in _run("settings").stdout


# --- licks -------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def pool(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A folder with the demo group in it."""
    folder = str(tmp_path_factory.mktemp("pool"))
    assert _run("demo", "--data", folder, "--no-serve", "--no-files").returncode == 0
    return folder


def _licks(folder: str, *arguments: str) -> str:
    done = _run("licks", "--data", folder, "--group", "ferry-lane", *arguments)
    assert done.returncode == 0, done.stderr + done.stdout
    return " ".join(done.stdout.split())


def test_licks_lists_what_a_phrase_can_have_best_first_with_reasons(pool: str) -> None:
    shown = _licks(pool, "--tune", "heron-ferry", "--phrase", "4", "--most", "3")
    assert shown.startswith("1. Bump against the stage (4), level 2")
    assert "3. " in shown
    assert shown.count(", level ") == 3
    assert "Its role, tag, is what the phrase asks for." in shown
    assert "on strong places." in shown


def test_licks_tells_of_one_lick_its_seams_its_twins_and_easier_versions(pool: str) -> None:
    shown = _licks(pool, "--lick", "102", "--twins", "--into", "95", "--easier", "--width", "60")
    assert "Into lick 95:" in shown
    assert "No lick of the pool is like it." in shown
    assert "Level" in shown
    over = _licks(pool, "--lick", "1", "--tune", "heron-ferry", "--phrase", "1", "--bpm", "100")
    assert "It recalls" in over
    assert "half = 100" in over


@pytest.mark.parametrize(
    ("arguments", "status", "says"),
    [
        (("--group", "nobody"), 1, "no group called nobody"),
        (("--group", "ferry-lane"), 2, "--tune and --phrase, or --lick"),
        (("--group", "ferry-lane", "--lick", "9999"), 1, "no such lick"),
        (("--group", "ferry-lane", "--tune", "nope", "--phrase", "1"), 1, "no such tune"),
        (("--group", "ferry-lane", "--tune", "heron-ferry", "--phrase", "99"), 1, "no phrase 99"),
    ],
)
def test_a_wrong_licks_command_is_told_what_to_do(
    pool: str, arguments: tuple[str, ...], status: int, says: str
) -> None:
    done = _run("licks", "--data", pool, *arguments)
    assert done.returncode == status
    assert says in " ".join(done.stdout.split())
    assert "Traceback" not in done.stderr


def test_licks_without_a_database_says_so(tmp_path: Path) -> None:
    done = _run("licks", "--data", str(tmp_path), "--group", "ferry-lane", "--lick", "1")
    assert done.returncode != 0
    assert "no database" in done.stderr


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (("--to-chord", "D"), "| D |"),
        (("--to-key", "A"), "| A |"),
        (("--steps", "-1"), "Placed anew"),
        (("--for", "mandolin"), "standard (GDAE)"),
        (("--easier",), "level"),
    ],
)
def test_judge_shows_a_lick_moved_or_made_easier(asked: tuple[str, ...], says: str) -> None:
    done = _run("judge", "-", "--key", "G", "--chords", "| G |", *asked, stdin="3.2 h4 2 1 4.2 2 1.2 -")
    assert done.returncode == 0, done.stderr
    assert says in " ".join(done.stdout.split())
