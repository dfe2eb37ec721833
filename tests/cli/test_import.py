"""``breakwright import-licks`` as it is typed: real processes."""

from pathlib import Path

import pytest

from tests.cli.test_commands import TAB, _run

DEFAULTS = 'instrument = "banjo"\nkey = "G"\nhand_style = "three-finger"\nstyle = "roll"\nchords = "| G |"\n'


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A demo database with a member called You."""
    folder = str(tmp_path_factory.mktemp("data"))
    assert _run("demo", "--data", folder, "--no-serve", "--no-files").returncode == 0
    return folder


def test_a_folder_is_sent_in_and_each_file_answered_for(data: str, tmp_path: Path) -> None:
    (tmp_path / "more").mkdir()
    (tmp_path / "defaults.toml").write_text(DEFAULTS)
    (tmp_path / "low-water.txt").write_text(TAB.replace("4|---------0", "4|---------2"))
    (tmp_path / "broken.txt").write_text(TAB.replace("3|-0--", "3|-?--"))
    (tmp_path / "more" / "alone.txt").write_text(TAB)
    (tmp_path / "cover.png").write_bytes(b"png")
    asked = ("import-licks", str(tmp_path), "--data", data, "--group", "ferry-lane", "--member", "You")
    for dry in (True, False):
        done = _run(*asked, *(("--dry",) if dry else ()))
        assert done.returncode == 1, done.stderr
        lines = done.stdout.splitlines()
        assert lines[0].startswith("broken.txt, Broken: line 3, column 4: ")
        assert lines[1:3] == [
            "cover.png: skipped. Not a file of licks: those end in .toml or .txt.",
            "low-water.txt, Low water: lick 185, pool",
        ]
        assert [line.split(":")[0] for line in lines[3:8]] == ["more/alone.txt, Alone"] * 5
        assert lines[8].startswith("1 kept, 1 skipped, 2 faulty.")
        assert lines[8].endswith("dry run.") == dry
    again = _run(*asked)
    assert "low-water.txt, Low water: skipped. This is lick 185." in again.stdout


@pytest.mark.parametrize(
    ("folder", "group", "member", "said"),
    [
        ("nowhere", "ferry-lane", "You", "there is no folder nowhere"),
        (".", "quay", "You", "There is no group called quay."),
        (".", "ferry-lane", "Nobody", "There is no such member here."),
    ],
)
def test_what_is_not_there_is_said(
    data: str, tmp_path: Path, folder: str, group: str, member: str, said: str
) -> None:
    done = _run("import-licks", folder, "--data", data, "--group", group, "--member", member, cwd=tmp_path)
    assert (done.returncode, said in done.stderr, done.stdout) == (2, True, "")
