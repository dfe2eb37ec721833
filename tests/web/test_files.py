"""Pictures, sheets, sound and files for other programs, as they are asked for over HTTP."""

import concurrent.futures
import io
import json
import xml.etree.ElementTree as ET
from typing import Any

import av
import httpx
import mido
import pypdf
import pytest
from PIL import Image

from tests.support import RunningService
from tests.web.test_api import GROUP

WHAT = {
    "tab.txt": ("text/plain; charset=utf-8", b"open G"),
    "tab.svg": ("image/svg+xml", b"<svg"),
    "tab.png": ("image/png", b"\x89PNG"),
    "sheet.pdf": ("application/pdf", b"%PDF"),
    "break.mid": ("audio/midi", b"MThd"),
    "break.musicxml": ("application/vnd.recordare.musicxml+xml", b"<?xml"),
    "break.mp3": ("audio/mpeg", b""),
    "break.ogg": ("audio/ogg", b"OggS"),
    "break.flac": ("audio/flac", b"fLaC"),
    "break.wav": ("audio/wav", b"RIFF"),
    "read-out.txt": ("text/plain; charset=utf-8", b""),
    "alt.txt": ("text/plain; charset=utf-8", b""),
}


@pytest.fixture(scope="module")
def code(demo: RunningService) -> str:
    drawn = demo.member.post(f"{GROUP}/tunes/heron-ferry/breaks/random", json={"seed": 3, "max_level": 3})
    found: str = drawn.json()["code"]
    return found


def _get(demo: RunningService, path: str, **headers: str) -> httpx.Response:
    return demo.member.get(f"{GROUP}/{path}", headers=headers)


@pytest.mark.parametrize("what", WHAT)
@pytest.mark.parametrize("of", ["lick", "break", "loop"])
def test_every_file_is_there_for_licks_breaks_and_loops(
    demo: RunningService, code: str, of: str, what: str
) -> None:
    path = {"lick": "licks/1", "break": f"breaks/{code}", "loop": f"breaks/{code}/loops/4"}[of]
    answer = _get(demo, f"{path}/{what}")
    media, begins = WHAT[what]
    assert answer.status_code == 200, answer.text[:300]
    assert answer.headers["content-type"] == media
    assert answer.content.startswith(begins)
    assert len(answer.content) > 100


def test_a_break_has_links_to_its_files(demo: RunningService, code: str) -> None:
    links = _get(demo, f"breaks/{code}").json()["links"]
    for name in ("picture", "sheet", "sound", "midi", "musicxml", "read-out"):
        assert demo.member.get(links[name]).status_code == 200, name


def test_what_there_is_not_is_said_with_what_there_is(demo: RunningService, code: str) -> None:
    for path in ("licks/1/tab.gif", f"breaks/{code}/tab.gif", "tunes/heron-ferry/card.gif"):
        answer = _get(demo, path)
        assert answer.status_code == 404
        assert answer.json()["code"] == "no-such-file"
        assert ".png" in answer.json()["detail"]


@pytest.mark.parametrize(
    ("query", "status", "code_of_it"),
    [
        ("tab.png?page=99", 404, "no-such-page"),
        ("tab.png?theme=pink", 400, "bad-request"),
        ("break.mp3?tempo=29", 400, "bad-request"),
        ("break.mp3?tempo=321", 400, "bad-request"),
        ("break.mp3?rounds=65", 400, "bad-request"),
        ("break.mp3?mute=kazoo", 422, "no-such-player"),
        ("break.mp3?rounds=64&tempo=30", 422, "too-long"),
        ("loops/1/work-up.mp3?from=30&step=1", 422, "too-many-rounds"),
        ("tab.png?capo=12", 400, "bad-request"),
        ("tab.png?key=H", 422, "unknown-key"),
        ("tab.png?key=Em", 422, "key-of-other-mode"),
        ("tab.png?key=A&capo=2", 422, "capo-or-key"),
        ("loops/17/tab.png", 404, "no-such-phrase"),
        ("loops/0/tab.png", 400, "bad-request"),
    ],
)
def test_what_cannot_be_is_refused_before_anything_is_made(
    demo: RunningService, code: str, query: str, status: int, code_of_it: str
) -> None:
    answer = _get(demo, f"breaks/{code}/{query}")
    assert (answer.status_code, answer.json()["code"]) == (status, code_of_it)


def test_other_groups_get_nothing(demo: RunningService, code: str) -> None:
    assert demo.operator.post("/v1/groups", json={"slug": "elsewhere", "name": "Elsewhere"}).status_code in (
        201,
        409,
    )
    with demo.client("member", "elsewhere", "Rook") as stranger:
        for path in (f"breaks/{code}/tab.png", "licks/1/break.mp3", "tunes/heron-ferry/card.pdf"):
            assert stranger.get(f"{GROUP}/{path}").status_code == 404
    with demo.client_with(None) as nobody:
        assert nobody.get(f"{GROUP}/licks/1/tab.png").status_code == 401


# --- pictures and sheets ------------------------------------------------------------------------------------


def test_a_long_break_has_pages_that_name_their_neighbours(demo: RunningService, code: str) -> None:
    first = _get(demo, f"breaks/{code}/tab.png?theme=dark")
    assert first.headers["link"] == (f'<{GROUP}/breaks/{code}/tab.png?theme=dark&page=2>; rel="next"')
    second = demo.member.get(first.headers["link"].split(">")[0][1:])
    assert 'page=1>; rel="prev"' in second.headers["link"]
    assert "next" not in second.headers["link"]
    assert "-2.png" in second.headers["content-disposition"]


def test_where_it_comes_from_stands_in_files_for_other_programs_too(demo: RunningService, code: str) -> None:
    score = ET.fromstring(_get(demo, f"breaks/{code}/break.musicxml").content)
    rights = [element.text for element in score.iter("rights")]
    assert "Tune: traditional." in rights
    midi = mido.MidiFile(file=io.BytesIO(_get(demo, f"breaks/{code}/break.mid").content), charset="utf-8")
    assert "Tune: traditional." in [m.text for m in midi.tracks[0] if m.type == "copyright"]


def test_a_link_to_the_next_part_repeats_all_that_was_asked(demo: RunningService, code: str) -> None:
    first = _get(demo, f"breaks/{code}/tab.png?mute=lead&mute=guitar&page=1&theme=dark")
    assert first.headers["link"].endswith('?mute=lead&mute=guitar&theme=dark&page=2>; rel="next"')


def test_whoever_mutes_somebody_in_a_midi_file_gets_another_file(demo: RunningService, code: str) -> None:
    plain, muted = (_get(demo, f"breaks/{code}/break.mid{more}") for more in ("", "?mute=guitar"))
    assert plain.headers["etag"] != muted.headers["etag"]
    assert len(muted.content) < len(plain.content)


def test_pictures_are_two_and_a_quarter_phones_points_wide_and_dark_when_asked(demo: RunningService) -> None:
    light = Image.open(io.BytesIO(_get(demo, "licks/1/tab.png").content)).convert("L")
    dark = Image.open(io.BytesIO(_get(demo, "licks/1/tab.png?theme=dark").content)).convert("L")
    assert light.width == dark.width == 878  # 2.25 x 390
    assert light.getpixel((3, 3)) == 255
    assert dark.getpixel((3, 3)) < 40
    inked = sum(light.histogram()[:128]) / (light.width * light.height)
    assert 0.005 < inked < 0.2  # letters are there: a font that is missing leaves no ink, or too much


def test_a_sheet_holds_title_chords_and_its_own_fonts(demo: RunningService, code: str) -> None:
    reader = pypdf.PdfReader(io.BytesIO(_get(demo, f"breaks/{code}/sheet.pdf").content))
    text = "\n".join(page.extract_text() for page in reader.pages)
    for wanted in ("Heron Ferry", "key of G", "Em", "C", "D", f"break {code}", "Tune: traditional."):
        assert wanted in text, wanted
    fonts = {
        font.get_object()["/BaseFont"]: font.get_object()
        for page in reader.pages
        for font in page["/Resources"]["/Font"].values()
    }
    assert all("BreakwrightSans" in name for name in fonts)
    for font in fonts.values():
        (descendant,) = font["/DescendantFonts"]
        assert "/FontFile2" in descendant.get_object()["/FontDescriptor"]
    assert reader.metadata.title == "Heron Ferry"


def test_an_svg_may_do_nothing_but_be_looked_at(demo: RunningService) -> None:
    answer = _get(demo, "licks/1/tab.svg")
    assert answer.headers["content-security-policy"].startswith("default-src 'none'")
    assert "sandbox" in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_large_print_has_larger_letters(demo: RunningService) -> None:
    plain, large = (
        pypdf.PdfReader(io.BytesIO(_get(demo, f"licks/14/sheet.pdf?large={large}").content)).pages[0]
        for large in ("false", "true")
    )
    assert plain.mediabox == large.mediabox

    ordinary = _get(demo, "licks/14/tab.svg").text
    bigger = _get(demo, "licks/14/tab.svg?large=true").text
    assert 'font-size="12"' in ordinary
    assert 'font-size="17.4"' in bigger


def test_a_break_whose_repeats_are_the_same_is_folded_on_paper(demo: RunningService) -> None:
    made = demo.member.post(
        f"{GROUP}/tunes/heron-ferry/breaks/random", json={"seed": 2, "repeats": "same"}
    ).json()["code"]
    folded = _get(demo, f"breaks/{made}/tab.svg?folded=true").text
    written = _get(demo, f"breaks/{made}/tab.svg").text
    assert folded.count("<circle") >= 4
    assert written.count("<circle") < folded.count("<circle")


def test_another_capo_is_another_key_under_the_same_hands(demo: RunningService) -> None:
    text = _get(demo, "licks/1/read-out.txt?capo=2").text
    assert "Capo at the second fret: G major shapes sound in A major." in text
    notes = [
        message.note
        for message in mido.MidiFile(
            file=io.BytesIO(_get(demo, "licks/1/break.mid?capo=2&mute=band").content)
        )
        if message.type == "note_on" and message.velocity
    ]
    plain = [
        message.note
        for message in mido.MidiFile(file=io.BytesIO(_get(demo, "licks/1/break.mid?mute=band").content))
        if message.type == "note_on" and message.velocity
    ]
    assert notes == [note + 2 for note in plain]


def test_a_capo_that_takes_a_fret_away_is_refused(demo: RunningService) -> None:
    high = {
        "name": "Up where the gulls are", "text": "1.20 1.19 1.17 1.15 1.17 1.15 1.14 1.12, 1.12 2 5 1 3 2 5 1",
        "instrument": "banjo", "chords": "| G | G |", "key": "G", "hand_style": "three-finger",
        "style": "single-string", "level": 5,
    }  # fmt: skip
    sent = demo.organiser.post(f"{GROUP}/licks", json=high)
    assert sent.status_code == 201, sent.text
    answer = demo.organiser.get(f"{GROUP}/licks/{sent.json()['number']}/tab.png?capo=5")
    assert (answer.status_code, answer.json()["code"]) == (422, "capo-takes-frets")
    demo.organiser.delete(f"{GROUP}/licks/{sent.json()['number']}", headers={"If-Match": "*"})


# --- sound --------------------------------------------------------------------------------------------------


def _seconds(content: bytes) -> float:
    with av.open(io.BytesIO(content)) as container:
        return sum(frame.samples / frame.sample_rate for frame in container.decode(audio=0))


def test_what_is_told_of_a_sound_is_what_it_is(demo: RunningService, code: str) -> None:
    """32 measures at half = 120 take 32 seconds (a half measure each half second), after two measures counted in."""
    told = _get(demo, f"breaks/{code}/break.json?tempo=120").json()
    (file,) = told["files"]
    content = demo.member.get(file["link"]).content
    assert len(content) == file["bytes"]
    assert _seconds(content) == pytest.approx(file["seconds"], abs=0.05)
    assert 34 <= file["seconds"] <= 37
    assert told["tempos"] == [{"bpm": 120, "starts": 0.0}]
    assert told["unit"] == "half"
    assert any("ear" in caution for caution in told["cautions"])


def test_a_work_up_lists_its_tempos(demo: RunningService, code: str) -> None:
    told = _get(demo, f"breaks/{code}/loops/1/work-up.json?from=60&tempo=80&step=10&each=2").json()
    assert [tempo["bpm"] for tempo in told["tempos"]] == [60, 70, 80]
    starts = [tempo["starts"] for tempo in told["tempos"]]
    # a round of four measures, twice, after two measures of count-in: ten measures of two halves each
    assert starts[1] - starts[0] == pytest.approx(10 * 2 * 60 / 60, abs=0.01)
    assert starts[2] - starts[1] == pytest.approx(10 * 2 * 60 / 70, abs=0.01)


def test_sound_that_would_be_too_large_comes_in_parts(tmp_path: Any) -> None:
    with RunningService(tmp_path, demo=True, file_limit_mib=1) as small:
        path = f"{GROUP}/licks/1/break.wav?rounds=8"
        first = small.member.get(path)
        assert len(first.content) <= 1 << 20
        parts, following = [first.content], first.headers.get("link", "")
        while 'rel="next"' in following:
            where = next(link for link in following.split(", ") if 'rel="next"' in link)
            page = small.member.get(where.split(">")[0][1:])
            parts.append(page.content)
            following = page.headers.get("link", "")
        assert len(parts) > 1
        assert all(len(part) <= 1 << 20 for part in parts)
        whole = small.member.get(f"{GROUP}/licks/1/break.json?rounds=8").json()["seconds"]
        assert sum(map(_seconds, parts)) == pytest.approx(whole, abs=0.2)


# --- tags, ranges, cache ------------------------------------------------------------------------------------


def test_who_has_it_already_is_told_so(demo: RunningService) -> None:
    for what in ("tab.png", "break.mid", "break.mp3", "read-out.txt"):
        first = _get(demo, f"licks/2/{what}")
        assert first.headers["cache-control"] == "private, no-cache"
        again = _get(demo, f"licks/2/{what}", **{"If-None-Match": first.headers["etag"]})
        assert (again.status_code, again.content) == (304, b"")
        other = _get(demo, f"licks/2/{what}?tempo=61", **{"If-None-Match": first.headers["etag"]})
        assert other.status_code == 200
        assert other.headers["etag"] != first.headers["etag"]


@pytest.mark.parametrize(
    ("asked", "first", "last"),
    [
        ("bytes=0-99", 0, 99),
        ("bytes=100-", 100, None),
        ("bytes=-50", -50, None),
        ("bytes=10-999999999", 10, None),
    ],
)
def test_a_part_of_a_sound_can_be_asked_for(
    demo: RunningService, asked: str, first: int, last: int | None
) -> None:
    whole = _get(demo, "licks/1/break.mp3").content
    part = _get(demo, "licks/1/break.mp3", Range=asked)
    assert part.status_code == 206
    begin = first if first >= 0 else len(whole) + first
    end = len(whole) - 1 if last is None else last
    assert part.content == whole[begin : end + 1]
    assert part.headers["content-range"] == f"bytes {begin}-{end}/{len(whole)}"
    assert part.headers["accept-ranges"] == "bytes"


def test_ranges_that_mean_nothing_give_the_whole_and_impossible_ones_are_refused(
    demo: RunningService,
) -> None:
    whole = _get(demo, "licks/1/break.mp3").content
    for asked in ("bytes=-", "lines=1-2", "bytes=0-1,5-9", "bytes=a-b"):
        assert _get(demo, "licks/1/break.mp3", Range=asked).content == whole
    beyond = _get(demo, "licks/1/break.mp3", Range=f"bytes={len(whole)}-")
    assert (beyond.status_code, beyond.json()["code"]) == (416, "bad-range")
    stale = _get(demo, "licks/1/break.mp3", Range="bytes=0-9", **{"If-Range": '"other"'})
    assert stale.status_code == 200


def test_a_lick_that_is_taken_down_is_gone_from_pictures_and_from_the_disk(service: RunningService) -> None:
    made = service.member.post(f"{GROUP}/tunes/heron-ferry/breaks/random", json={"seed": 3}).json()
    lick = made["phrases"][0]["lick"]
    picture = f"{GROUP}/breaks/{made['code']}/tab.svg"
    before = service.member.get(picture)
    assert lick["name"] in before.text
    renders = service.house.settings.renders
    assert list(renders.rglob("made.json"))
    taken = service.organiser.put(
        f"{GROUP}/licks/{lick['number']}/taken-down", json={"reason": "why"}, headers={"If-Match": "*"}
    )
    assert taken.status_code == 200
    assert not list(renders.rglob("made.json"))
    assert service.member.get(f"{GROUP}/licks/{lick['number']}/tab.png").status_code == 451
    after = service.member.get(picture, headers={"If-None-Match": before.headers["etag"]})
    assert after.status_code == 200
    assert lick["name"] not in after.text
    assert "taken down" in after.text
    for what in ("break.mp3", "break.mid", "break.musicxml", "read-out.txt", "sheet.pdf"):
        assert service.member.get(f"{GROUP}/breaks/{made['code']}/{what}").status_code == 200


# --- tunes --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("tune", ["heron-ferry", "millers-mitten", "thimble-creek"])
def test_a_card_is_one_page_with_chart_setting_players_kick_off_and_ending(
    demo: RunningService, tune: str
) -> None:
    answer = _get(
        demo, f"tunes/{tune}/card.pdf?player=Wren:7P5MNCRY&player=Otter:the plain break&shapes=true"
    )
    reader = pypdf.PdfReader(io.BytesIO(answer.content))
    assert len(reader.pages) == 1
    text = reader.pages[0].extract_text()
    for wanted in ("Wren", "7P5MNCRY", "Otter", "the plain break", "Kick-off", "Ending", "fifth string"):
        assert wanted in text, wanted


def test_who_plays_what_is_read_or_refused(demo: RunningService) -> None:
    answer = _get(demo, "tunes/heron-ferry/card.png?player=Wren")
    assert (answer.status_code, answer.json()["code"]) == (422, "bad-player")


def test_a_stock_holds_every_phrase_once(demo: RunningService) -> None:
    reader = pypdf.PdfReader(io.BytesIO(_get(demo, "tunes/heron-ferry/licks.pdf").content))
    text = "\n".join(page.extract_text() for page in reader.pages)
    for phrase in ("Phrase 1: part A", "Phrase 4: part A", "Phrase 9: part B", "Phrase 12: part B"):
        assert text.count(phrase) == 1, phrase
    assert "12 Weathervane swinging round" in text


def test_a_booklet_has_the_same_tune_for_mixed_instruments(demo: RunningService, code: str) -> None:
    guitar, waltz = (
        demo.member.post(f"{GROUP}/tunes/{tune}/breaks/random", json={"seed": 1, **more}).json()["code"]
        for tune, more in (("heron-ferry", {"instrument": "guitar"}), ("thimble-creek", {}))
    )
    answer = _get(demo, f"booklet.pdf?break={code}&break={guitar}&break={waltz}")
    text = "\n".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(answer.content)).pages)
    assert text.count("five-string banjo") >= 2
    assert "guitar · break" in text
    assert "Thimble Creek" in text


@pytest.mark.parametrize("kind", ["backup", "kick-off", "ending"])
@pytest.mark.parametrize("instrument", ["banjo", "guitar", "mandolin", "upright-bass", "fiddle"])
def test_backup_kick_off_and_ending_can_be_seen_and_heard(
    demo: RunningService, kind: str, instrument: str
) -> None:
    for what in ("tab.svg", "break.mid", "break.mp3"):
        answer = _get(demo, f"tunes/thimble-creek/{kind}/{what}?instrument={instrument}")
        assert answer.status_code == 200, answer.text[:300]
    assert ET.fromstring(_get(demo, f"tunes/thimble-creek/{kind}/tab.svg?instrument={instrument}").content)


def test_measures_are_filled_where_it_is_asked(demo: RunningService) -> None:
    plain, filled = (
        _get(demo, f"tunes/heron-ferry/backup/tab.txt?pattern=vamp{more}").text for more in ("", "&fill=8")
    )
    assert plain != filled
    assert plain[: plain.index(" 8 ")] == filled[: filled.index(" 8 ")]
    answer = _get(demo, "tunes/heron-ferry/backup/tab.png?fill=33")
    assert (answer.status_code, answer.json()["code"]) == (422, "no-such-measure")


def test_the_head_of_a_file_can_be_asked_for(demo: RunningService) -> None:
    whole = _get(demo, "licks/1/break.mp3")
    head = demo.member.head(f"{GROUP}/licks/1/break.mp3")
    assert (head.status_code, head.content) == (200, b"")
    for name in ("content-length", "etag", "accept-ranges", "content-type"):
        assert head.headers[name] == whole.headers[name]


def test_an_unknown_pattern_is_told_what_there_is(demo: RunningService) -> None:
    answer = _get(demo, "tunes/heron-ferry/backup/tab.png?pattern=polka")
    assert (answer.status_code, answer.json()["code"]) == (422, "unknown-pattern")
    assert "vamp" in answer.json()["detail"]


# --- the queue ----------------------------------------------------------------------------------------------


def test_whoever_comes_when_too_many_wait_is_told_to_come_again(tmp_path: Any) -> None:
    with RunningService(tmp_path, demo=True, render_workers=1, render_queue=2) as small:
        client = small.member

        def ask(number: int) -> httpx.Response:
            return client.get(f"{GROUP}/licks/{number}/break.mp3?rounds=40")

        with concurrent.futures.ThreadPoolExecutor(12) as crowd:
            answers = list(crowd.map(ask, range(1, 13)))
        refused = [answer for answer in answers if answer.status_code == 503]
        assert 1 <= len(refused) <= 9
        assert all(answer.json()["code"] == "renders-busy" for answer in refused)
        assert all(int(answer.headers["retry-after"]) >= 1 for answer in refused)
        assert sum(answer.status_code == 200 for answer in answers) >= 3
        assert json.loads(client.get(f"{GROUP}/licks/1/break.json?rounds=40").content)["files"]


# --- a phrase hidden -----------------------------------------------------------------------------------


def test_a_hidden_phrase_is_empty_in_the_tab_and_all_else_stays(demo: RunningService, code: str) -> None:
    shown = _get(demo, f"breaks/{code}/tab.txt?layout=phone").text.split("\n\n")
    hidden = _get(demo, f"breaks/{code}/tab.txt?layout=phone&hide=3").text.split("\n\n")
    assert hidden.pop(5) == "Phrase 3 is hidden."
    differing = [n for n, (one, other) in enumerate(zip(shown, hidden, strict=True)) if one != other]
    assert differing == [5, 6]  # measures 5 and 6, after the set-up
    for rows in (hidden[5], hidden[6]):
        assert not any(letter.isdigit() for line in rows.splitlines() for letter in line.partition("|")[2])
    assert hidden[5].splitlines()[0] == shown[5].splitlines()[0]  # number and chord


@pytest.mark.parametrize("what", ["read-out.txt", "alt.txt"])
def test_descriptions_say_that_a_phrase_is_hidden_and_nothing_of_it(
    demo: RunningService, code: str, what: str
) -> None:
    lick = demo.member.get(f"{GROUP}/breaks/{code}").json()["phrases"][0]["lick"]
    said = f"{lick['number']} {lick['name']}, measures 1 to 2."
    assert said in _get(demo, f"breaks/{code}/{what}").text
    told = _get(demo, f"breaks/{code}/{what}?hide=1").text
    assert "Phrase 1 is hidden." in told
    assert said not in told
    assert "Measures 1 to 2, over G: rest." in told


def _pitches(body: bytes) -> dict[str, list[tuple[int, int]]]:
    """By track: onsets in ticks and pitches."""
    found: dict[str, list[tuple[int, int]]] = {}
    for track in mido.MidiFile(file=io.BytesIO(body)).tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                found.setdefault(track.name, []).append((now, message.note))
    return found


def test_only_the_lead_is_silent_while_a_phrase_is_hidden(demo: RunningService, code: str) -> None:
    whole = _pitches(_get(demo, f"breaks/{code}/break.mid").content)
    quiet = _pitches(_get(demo, f"breaks/{code}/break.mid?hide=3").content)
    changed = [track for track in whole if whole[track] != quiet[track]]
    assert len(changed) == 1
    (lead,) = changed
    gone = [note for note in whole[lead] if note not in quiet[lead]]
    measure = 4 * 480
    begins = gone[0][0] // measure * measure
    assert gone == [note for note in whole[lead] if begins <= note[0] < begins + 2 * measure]


def test_pictures_sheets_and_sound_of_a_hidden_phrase_are_others(demo: RunningService, code: str) -> None:
    svg = _get(demo, f"breaks/{code}/tab.svg?hide=3").text
    assert "Phrase 3 is hidden." in svg
    for what in ("tab.png", "sheet.pdf", "break.mp3"):
        tags = {
            _get(demo, f"breaks/{code}/{what}{query}").headers["etag"] for query in ("", "?hide=3", "?hide=4")
        }
        assert len(tags) == 3, what
    sheet = pypdf.PdfReader(io.BytesIO(_get(demo, f"breaks/{code}/sheet.pdf?hide=3").content))
    assert "Phrase 3 is hidden." in "".join(page.extract_text() for page in sheet.pages)
    assert _get(demo, f"breaks/{code}/tab.txt?hide=0").content == _get(demo, f"breaks/{code}/tab.txt").content


@pytest.mark.parametrize("what", ["tab.txt", "tab.svg", "alt.txt"])
def test_a_phrase_that_is_not_there_cannot_be_hidden(demo: RunningService, code: str, what: str) -> None:
    answer = _get(demo, f"breaks/{code}/{what}?hide=17")
    assert (answer.status_code, answer.json()["code"]) == (404, "no-such-phrase")


def test_the_same_hands_can_be_asked_for_in_another_key(demo: RunningService) -> None:
    """B is G shapes with the capo at 4: common practice, no source."""
    assert _get(demo, "licks/1/tab.svg?key=B").content == _get(demo, "licks/1/tab.svg?capo=4").content
    assert _get(demo, "licks/1/break.mid?key=B").content == _get(demo, "licks/1/break.mid?capo=4").content
    assert _get(demo, "licks/1/tab.svg?key=G").content == _get(demo, "licks/1/tab.svg").content
