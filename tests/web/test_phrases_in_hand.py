"""Phrases of tunes as an instrument plays them, and licks' chords as they can be sent in again."""

import pytest

from tests.support import RunningService

GROUP = "/v1/groups/ferry-lane"


def test_a_phrase_is_told_in_the_playing_position(demo: RunningService) -> None:
    answer = demo.member.get(f"{GROUP}/tunes/millers-mitten/phrases/3")
    assert answer.status_code == 200, answer.text
    assert answer.json() == {
        "number": 3, "part": "A", "index": 3, "role": "set-up", "meter": "2/2", "instrument": "banjo",
        "tuning": "open-g", "key": "G", "chart": "| G | D |",
    }  # fmt: skip


def test_a_mandolin_plays_the_same_phrase_where_it_sounds(demo: RunningService) -> None:
    answer = demo.member.get(
        f"{GROUP}/tunes/millers-mitten/phrases/8", params={"instrument": "mandolin"}
    ).json()
    assert (answer["key"], answer["chart"]) == ("A", "| A | G | A |")


@pytest.mark.parametrize("phrase", [17, 512])
def test_a_phrase_that_is_not_there_is_named(demo: RunningService, phrase: int) -> None:
    answer = demo.member.get(f"{GROUP}/tunes/millers-mitten/phrases/{phrase}")
    assert (answer.status_code, answer.json()["code"]) == (404, "no-such-phrase")


def test_what_is_shown_of_a_lick_can_be_sent_in_again_with_nothing_lost(service: RunningService) -> None:
    """Every lick of the demo is changed to its own tab and chart: notes and chords stay what they were."""
    numbers = [lick["number"] for lick in _licks(service)]
    assert len(numbers) > 150
    for number in numbers:
        was = service.organiser.get(f"{GROUP}/licks/{number}").json()
        sent = {
            "name": was["name"], "text": was["tab"], "chords": was["chart"],
            **{key: was[key] for key in ("instrument", "key", "hand_style", "style", "tuning", "meter", "role", "phrases")},
        }  # fmt: skip
        answer = service.organiser.put(f"{GROUP}/licks/{number}", json=sent, headers={"If-Match": "*"})
        assert answer.status_code == 200, (number, answer.text)
        now = answer.json()
        assert now["chart"] == was["chart"]
        assert [_note(note) for note in now["notes"]] == [_note(note) for note in was["notes"]], number


def _note(note: dict[str, object]) -> tuple[object, ...]:
    return tuple(note[name] for name in ("measure", "onset", "string", "fret", "technique"))


def _licks(service: RunningService) -> list[dict[str, object]]:
    found: list[dict[str, object]] = service.member.get(f"{GROUP}/licks", params={"limit": 200}).json()[
        "items"
    ]
    return found
