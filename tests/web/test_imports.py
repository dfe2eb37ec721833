"""A zip of licks over real HTTP: what is kept, skipped, faulty, and what a zip may not do."""

import io
import stat
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import httpx
import pytest

from service.usecases.lick_files import FILES_MOST, LICKS_MOST, UNPACKED_MIB
from tests.support import RunningService
from tests.web.test_api import GROUP, LICK, _problem

IMPORTS = f"{GROUP}/imports"
ZIP = {"Content-Type": "application/zip"}
FIXTURES = Path(__file__).parents[2] / "fixtures" / "ferry-lane"
DEFAULTS = (
    'instrument = "banjo"\nkey = "G"\nhand_style = "three-finger"\nstyle = "roll"\nchords = "| G | G |"\n'
)
TABLES = """
style = "roll"

[[lick]]
number = 7
name = "Reed in the wind"
tab = '''
1|-------0-------0|-------0-------0|
2|---0-------0----|---0-------0----|
3|-0---------2----|-0--------------|
4|---------0------|---------2------|
5|-----0-------0--|-----0-------0--|
'''

[[lick]]
name = "Short line"
style = "melodic"
text = "32514251, 3.2/4 2 5 1 (35)--"
"""
TAB = """1|-------0-------0|-------0-------0|
2|---0-------0----|---0-------0----|
3|-0--------------|-0---------0----|
4|---------0------|---------0------|
5|-----0-------0--|-----0-------0--|
"""


def _zip(files: Mapping[str, str | bytes]) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as packed:
        for path, content in files.items():
            packed.writestr(path, content)
    return made.getvalue()


def _send(client: httpx.Client, body: bytes, asked: str = "", **headers: str) -> httpx.Response:
    return client.post(
        IMPORTS + asked, content=body, headers=ZIP | {k.replace("_", "-"): v for k, v in headers.items()}
    )


def _report(client: httpx.Client, files: Mapping[str, str | bytes], asked: str = "") -> dict[str, Any]:
    answer = _send(client, _zip(files), asked)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def _told(report: dict[str, Any]) -> list[tuple[str, str, str | None]]:
    """(file, outcome, why or the first fault's code)."""
    return [
        (
            one["file"], one["outcome"],
            one["why"]["code"] if one["why"] else one["at"][0]["code"] if one["outcome"] == "faulty" else None,
        )
        for one in report["items"]
    ]  # fmt: skip


FOLDER = {
    "licks/defaults.toml": DEFAULTS,
    "licks/some.toml": TABLES,
    "licks/low-water_mark.txt": TAB,
    "licks/readme.txt": "What is in here?\nLicks of 3 kinds.\n",
    "licks/cover.png": b"\x89PNG",
}


def test_tables_and_tabs_become_licks_with_what_stands_beside_them(service: RunningService) -> None:
    report = _report(service.member, FOLDER)
    assert (report["dry"], report["kept"], report["skipped"], report["faulty"]) == (False, 3, 2, 0)
    assert [(one["file"], one["place"], one["name"], one["number"]) for one in report["items"]] == [
        ("licks/some.toml", 1, "Reed in the wind", 185), ("licks/some.toml", 2, "Short line", 186),
        ("licks/low-water_mark.txt", 1, "Low water mark", 187), ("licks/readme.txt", None, None, None),
        ("licks/cover.png", None, None, None),
    ]  # fmt: skip
    assert [code for _, _, code in _told(report)[3:]] == ["no-tab-in-it", "no-lick-file"]
    assert [caution["code"] for caution in report["cautions"]] == ["caution-rights"]
    shown = [service.member.get(f"{GROUP}/licks/{number}").json() for number in (185, 186, 187)]
    assert [(one["name"], one["style"], one["by"]) for one in shown] == [
        ("Reed in the wind", "roll", "Wren"), ("Short line", "melodic", "Wren"), ("Low water mark", "roll", "Wren"),
    ]  # fmt: skip
    assert [one["state"] for one in shown] == [one["state"] for one in report["items"][:3]]


def test_the_demo_sent_in_to_another_group_is_kept_as_it_was_and_skipped_the_second_time(
    service: RunningService,
) -> None:
    service.operator.post("/v1/groups", json={"slug": "quay", "name": "Quay"})
    files = {path.name: path.read_bytes() for path in sorted((FIXTURES / "licks").glob("*.toml"))}
    with service.client("organiser", "quay", "Tern") as quay:
        first, again = (
            quay.post("/v1/groups/quay/imports", content=_zip(files), headers=ZIP).json() for _ in range(2)
        )
        assert (first["kept"], first["skipped"], first["faulty"]) == (184, 0, 0)
        assert {one["state"] for one in first["items"]} == {"pool"}
        assert (again["kept"], again["skipped"]) == (0, 184)
        numbers = [one["why"]["params"]["lick"] for one in again["items"]]
        assert numbers == [one["number"] for one in first["items"]]
        (told,) = quay.get("/v1/groups/quay/audit").json()["items"]
        assert (told["action"], told["params"]) == ("import-licks", {"licks": 184})


def test_a_dry_import_reports_the_same_and_keeps_nothing(service: RunningService) -> None:
    before = service.member.get(f"{GROUP}/licks?limit=200").text
    dry = _report(service.member, FOLDER, "?dry=true")
    assert service.member.get(f"{GROUP}/licks?limit=200").text == before
    assert _report(service.member, FOLDER) | {"dry": True} == dry


def test_faults_say_line_and_column_of_the_file(service: RunningService) -> None:
    broken = TABLES.replace("4|---------2------|\n4", "4").replace(
        "1|-------0-------0|-------0", "1|-------0-------0|-------?"
    )
    report = _report(
        service.member,
        {
            "defaults.toml": DEFAULTS,
            "a.toml": broken,
            "b.toml": '[[lick]]\nname = "One line"\ntext = "32514251, 3251425q"\n',
            "c.toml": "[[lick]]\nname = \n",
            "d.txt": TAB.replace("3|-0--", "3|-?--"),
            "e.txt": b"\xff\xfe1|--0--|",
            "f.toml": '[[lick]]\nname = "Nothing"\n',
            "g.toml": '[[lick]]\nname = "Hard"\nlevel = 9\ntext = "32514251"\n',
            "h.toml": '[[lick]]\nname = "Odd"\ncolour = "red"\ntext = "32514251"\n',
            "i.toml": 'lick = "no table"\n',
            "j.toml": 'name = "no lick"\n',
            "k.toml": "level = " + "9" * 5000 + "\n",
            "l.TOML": '[[lick]]\nname = "Kazoo"\ninstrument = "kazoo"\ntext = "32514251"\n',
        },
    )
    found = {
        (one["file"], one["place"]): [(at["code"], at["line"], at["column"], at["path"]) for at in one["at"]]
        for one in report["items"]
        if one["outcome"] == "faulty"
    }
    (wrong,) = found["a.toml", 1]
    line = broken.split("\n")[wrong[1] - 1]
    assert line[wrong[2] - 1] == "?"
    assert (3, len('text = "32514251, 3251425q')) in [
        (line, column) for _, line, column, _ in found["b.toml", 1]
    ]
    assert found["c.toml", None] == [("not-toml", 2, 8, None)]
    (wrong,) = found["d.txt", 1]
    assert TAB.replace("3|-0--", "3|-?--").split("\n")[wrong[1] - 1][wrong[2] - 1] == "?"
    assert found["e.txt", None] == [("not-utf-8", None, None, None)]
    assert found["f.toml", 1] == [("field-missing", None, None, "text")]
    assert found["g.toml", 1] == [("field-too-large", None, None, "level")]
    assert [code for code, *_ in found["h.toml", 1]] == ["field-unknown"]
    assert found["i.toml", None] == [("not-lick-tables", None, None, None)]
    assert found["k.toml", None] == [("not-toml", 2, None, None)]
    assert [code for code, *_ in found["l.TOML", 1]] == ["unknown-instrument"]
    # the second lick of the file whose first is faulty is kept
    assert [(one["file"], one["place"]) for one in report["items"] if one["outcome"] == "kept"] == [
        ("a.toml", 2)
    ]
    assert [told for told in _told(report) if told[1] == "skipped"] == [
        ("j.toml", "skipped", "no-licks-in-it")
    ]


def test_what_no_file_says_comes_with_the_request_and_the_nearest_word_counts(
    service: RunningService,
) -> None:
    (alone,) = _report(service.member, {"a.txt": TAB})["items"]
    assert [at["path"] for at in alone["at"]] == ["instrument", "chords", "key", "hand_style", "style"]
    asked = "?instrument=guitar&key=G&hand_style=three-finger&style=melodic&chords=| G | G |"
    report = _report(
        service.member, {"x/a.txt": TAB, "x/defaults.toml": 'instrument = "banjo"\nstyle = "roll"\n'}, asked
    )
    (kept,) = report["items"]
    shown = service.member.get(f"{GROUP}/licks/{kept['number']}").json()
    assert (shown["instrument"], shown["style"], shown["key"]) == ("banjo", "roll", "G")
    # defaults hold in their own folder alone
    other = _report(service.member, {"y/a.txt": TAB, "x/defaults.toml": DEFAULTS})
    assert _told(other) == [("y/a.txt", "faulty", "field-missing")]


def test_a_lick_that_is_twice_in_the_zip_or_there_already_is_left_out(service: RunningService) -> None:
    service.member.post(f"{GROUP}/licks", json=LICK).raise_for_status()
    first = '[[lick]]\nname = "Copy"\nrole = "body"\ntext = "32514251, 3.2/4 2 5 1 (15)--"\n'
    second = '[[lick]]\nname = "Twice"\ntext = "32514251, 3.2/4 2 5 1 (35)--"\n'
    files = {"defaults.toml": DEFAULTS, "a.toml": first, "b.toml": second, "c.toml": second}
    report = _report(service.member, files)
    assert [(one["outcome"], one["number"], one["why"] and one["why"]["params"]["lick"]) for one in report["items"]] == [
        ("skipped", None, 185), ("kept", 186, None), ("skipped", None, 186),
    ]  # fmt: skip


def test_what_is_held_back_says_why_and_waits_where_the_group_reviews(service: RunningService) -> None:
    clash = '[[lick]]\nname = "Clash"\ntext = "3.1-------, 3.1-------"\n'
    (held,) = _report(service.member, {"defaults.toml": DEFAULTS, "a.toml": clash})["items"]
    assert (held["outcome"], held["state"], held["reasons"][0]["code"]) == ("kept", "draft", "does-not-fit")
    service.organiser.put(
        f"{GROUP}/settings", json={"review": True}, headers={"If-Match": "*"}
    ).raise_for_status()
    for one in _report(service.member, FOLDER)["items"][:3]:
        assert (one["state"], one["reasons"][-1]["code"]) == ("draft", "waits-for-review")


def test_rights_are_asked_of_a_file_as_of_a_request(service: RunningService) -> None:
    taken = DEFAULTS + '[rights]\norigin = "adapted"\n'
    (faulty,) = _report(service.member, {"defaults.toml": taken, "a.txt": TAB})["items"]
    assert [at["code"] for at in faulty["at"]] == ["source-needed"]
    given = taken + 'source = "An old fiddler"\nyear = 1931\n'
    (kept,) = _report(service.member, {"defaults.toml": given, "a.txt": TAB})["items"]
    rights = service.member.get(f"{GROUP}/licks/{kept['number']}").json()["rights"]
    assert (rights["origin"], rights["source"], rights["year"]) == ("adapted", "An old fiddler", 1931)


# --- once --------------------------------------------------------------------------------------------


def test_an_import_is_done_once_for_a_key_and_a_dry_one_uses_none_up(service: RunningService) -> None:
    body, key = _zip(FOLDER), {"Idempotency_Key": "i-1"}
    assert _send(service.member, body, "?dry=true", **key).json()["kept"] == 3
    first = _send(service.member, body, **key)
    again = _send(service.member, body, **key)
    assert (first.json()["kept"], again.json()) == (3, first.json())
    assert again.headers["idempotent-replay"] == "true"
    _problem(_send(service.member, _zip({"a.txt": TAB}), **key), 409, "key-reused")
    _problem(_send(service.member, body, "?key=A", **key), 409, "key-reused")
    service.organiser.put(
        f"{GROUP}/licks/185/taken-down", json={"reason": "why"}, headers={"If-Match": "*"}
    ).raise_for_status()
    later = _send(service.member, body, **key)
    assert "Reed in the wind" not in later.text
    assert [one["state"] for one in later.json()["items"][:2]] == [
        "taken-down",
        first.json()["items"][1]["state"],
    ]


# --- what a zip may not do ---------------------------------------------------------------------------


def test_only_this_address_takes_a_zip_and_it_takes_nothing_else(demo: RunningService) -> None:
    body = _zip({"a.txt": TAB})
    _problem(demo.member.post(f"{GROUP}/licks", content=body, headers=ZIP), 415, "unsupported-type")
    plain = {"Content-Type": "text/plain"}
    _problem(demo.member.post(IMPORTS, content=body, headers=plain), 415, "unsupported-type")
    for content in (b"", b"PK\x03\x04 nothing", b"{}", body[:-30]):
        _problem(_send(demo.member, content), 422, "import-not-a-zip")
    with demo.client("bot") as bot:
        _problem(_send(bot, body), 403, "not-allowed")


def test_an_export_of_a_group_is_sent_elsewhere(demo: RunningService) -> None:
    found = _problem(
        _send(demo.organiser, _zip({"x/group.json": "{}", "a.txt": TAB})), 422, "import-whole-group"
    )
    assert "POST /v1/imports" in found["detail"]


def test_a_zip_that_is_too_large_is_refused_before_it_is_read(tmp_path: Path) -> None:
    with RunningService(tmp_path, demo=True, import_mib=1) as small:
        large = _zip({"a.bin": bytes(range(256)) * 10}) + b"\0" * (1 << 20)
        found = _problem(_send(small.member, large), 413, "import-too-large")
        assert "1 MiB" in found["detail"]

        def parts() -> Any:  # no length is announced
            for _ in range(40):
                yield b"\0" * (1 << 16)

        _problem(small.member.post(IMPORTS, content=parts(), headers=ZIP), 413, "import-too-large")


def test_what_unpacks_to_too_much_or_has_too_many_files_is_refused(demo: RunningService) -> None:
    spaces = " " * 490_000
    bomb = _zip({f"{number}.txt": spaces for number in range(3 * UNPACKED_MIB)})
    assert len(bomb) < 100_000
    _problem(_send(demo.member, bomb), 422, "import-unpacks-too-large")
    one = _report(demo.member, {"a.txt": " " * 5_000_000, "b.txt": "no tab\nat all"}, "?dry=true")
    assert _told(one) == [("a.txt", "faulty", "file-too-large"), ("b.txt", "skipped", "no-tab-in-it")]
    many = _zip({f"{number}.png": "" for number in range(FILES_MOST + 1)})
    _problem(_send(demo.member, many), 422, "import-too-many")
    licks = _zip({"a.toml": '[[lick]]\nname = "x"\n' * (LICKS_MOST + 1)})
    _problem(_send(demo.member, licks), 422, "import-too-many")


@pytest.mark.parametrize(
    "path", ["../a.txt", "/a.txt", "x/../../a.txt", "..\\a.txt", "C:\\a.txt", "a\n.txt", "\0.txt"]
)
def test_paths_that_lead_elsewhere_are_not_looked_at(demo: RunningService, path: str) -> None:
    body = _zip({path.replace("\0", "@"): TAB}).replace(b"@", b"\0")
    told = _told(dict(_send(demo.member, body, "?dry=true").json()))
    assert [(outcome, why) for _, outcome, why in told] == [("skipped", "odd-path")]


def test_what_cannot_be_unpacked_is_reported_and_the_rest_is_read(demo: RunningService) -> None:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as packed:
        packed.writestr("defaults.toml", DEFAULTS)
        packed.writestr("a.txt", TAB)
        packed.writestr("packed.txt", TAB, zipfile.ZIP_BZIP2)
        link = zipfile.ZipInfo("link.txt")
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        packed.writestr(link, "/etc/hostname")
        packed.writestr("damaged.txt", TAB.replace("0", "2"))
    body = made.getvalue().replace(b"4|---------2------|---------2", b"4|---------2------|---------7")
    told = _told(dict(_send(demo.member, body, "?dry=true").json()))
    assert told == [
        ("a.txt", "kept", None), ("packed.txt", "faulty", "file-not-unpacked"), ("link.txt", "skipped", "no-tab-in-it"),
        ("damaged.txt", "faulty", "file-not-unpacked"),
    ]  # fmt: skip
