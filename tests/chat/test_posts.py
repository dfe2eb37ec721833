"""What the service lets the chat post: each exactly once, in its place, with buttons that work."""

from collections.abc import Iterator

import pytest

from tests.chat.corner import GROUP, Corner, running_corner
from tests.chat_platform.faults import Fault
from tests.chat_platform.wire import Message

SEND = ("POST", "/channels/*/messages")
# One over the measures of heron-ferry's first phrase, note for note in nobody's pool.
LINE = "32514251, 3.2 /4 2 5 1 (15)--"


@pytest.fixture
def corner(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Corner]:
    with running_corner(tmp_path_factory.mktemp("corner")) as running:
        yield running


def _set(corner: Corner, **wish: object) -> None:
    answer = corner.service.organiser.post(
        f"{GROUP}/challenges", json={"tune": "heron-ferry", "phrase": 1, **wish}
    )
    assert answer.status_code == 201, answer.text


def _sent_states(corner: Corner) -> list[tuple[str, str]]:
    posts = corner.service.organiser.get(f"{GROUP}/posts").json()["items"]
    return [(post["kind"], post["state"]) for post in reversed(posts)]


def _labels(message: Message) -> list[str]:
    return [button["label"] for button in message.buttons]


def test_a_challenge_is_announced_once_with_what_may_be_done_about_it(corner: Corner) -> None:
    _set(corner, note="Try it _slowly_ @everyone.")
    (message,) = corner.posted()
    assert message.content.startswith("**Challenge 1: Heron Ferry, part A, phrase 1 (opener)")
    assert r"Try it \_slowly\_ @​everyone." in message.content
    assert _labels(message) == ["Have a look", "Send a variation", "Entries"]
    (picture,) = message.attachments
    assert picture.content_type == "image/png"
    assert picture.description is not None
    assert "tab for five-string banjo in G major, 2 measures" in picture.description
    corner.quiet()
    assert len(corner.posts) == 1
    corner.platform.until(lambda: _sent_states(corner) == [("challenge", "sent")])


FAULTS = {
    "500": Fault(status=500),
    "502 in HTML": Fault(status=502, html=True),
    "503": Fault(status=503),
    "429": Fault(status=429, retry_after_s=0.2),
    "a connection that breaks before": Fault(drop=True),
    "a connection that breaks after": Fault(drop=True, after=True),
    "an answer cut in half": Fault(truncated=True),
}


@pytest.mark.parametrize("fault", FAULTS.values(), ids=FAULTS)
def test_a_fault_while_it_is_sent_leaves_one_message(corner: Corner, fault: Fault) -> None:
    corner.platform.faults.next(*SEND, fault)
    _set(corner)
    for _ in range(40):
        corner.clock.on(seconds=40)  # what could not be brought waits before it is tried again
        if _sent_states(corner) == [("challenge", "sent")]:
            break
        corner.quiet()
    assert _sent_states(corner) == [("challenge", "sent")]
    assert len(corner.posts) == 1


def test_entries_go_into_a_thread_below_the_announcement(corner: Corner) -> None:
    _set(corner)
    (announced,) = corner.posted()
    entered = corner.service.member.post(
        f"{GROUP}/challenges/1/variations", json={"text": LINE, "name": "Ferry bell"}
    )
    assert entered.status_code == 201, entered.text
    corner.platform.until(lambda: announced.thread is not None and len(corner.of_bot(announced.thread)) == 1)
    assert announced.thread is not None
    assert announced.thread.name == "Challenge 1: variations"
    (message,) = corner.of_bot(announced.thread)
    assert "Ferry bell" in message.content
    assert _labels(message) == ["Vote", "See it", "Hear it"]


def test_posts_their_buttons_and_their_thread_are_in_the_groups_language(corner: Corner) -> None:
    corner.ask("group set-up", corner.kit, language="de")
    _set(corner)
    (announced,) = corner.posted()
    assert announced.content.startswith("**Challenge 1: Heron Ferry, Teil A, Phrase 1 (Eröffnung)")
    assert _labels(announced) == ["Ansehen", "Variation einsenden", "Einsendungen"]
    sent = corner.service.member.post(f"{GROUP}/challenges/1/variations", json={"text": LINE, "name": "Bell"})
    assert sent.status_code == 201, sent.text
    corner.platform.until(lambda: announced.thread is not None and len(corner.of_bot(announced.thread)) == 1)
    assert announced.thread is not None
    assert announced.thread.name == "Challenge 1: Variationen"
    (message,) = corner.of_bot(announced.thread)
    assert _labels(message) == ["Abstimmen", "Ansehen", "Anhören"]


@pytest.mark.parametrize(
    ("locale", "head"),
    [
        ("de", "Stücke: 3"),
        ("es-ES", "Temas: 3"),
        ("es-419", "Temas: 3"),
        ("en-GB", "3 tunes"),
        ("fr", "3 tunes"),
    ],
)
def test_an_answer_is_in_the_language_of_whoever_asks(corner: Corner, locale: str, head: str) -> None:
    corner.wren.locale = locale
    assert head in corner.ask("tune list", corner.wren).message.content


def test_without_threads_entries_go_into_the_channel(corner: Corner) -> None:
    corner.platform.allow(corner.room, {"view", "send", "attach", "history"})
    _set(corner)
    corner.posted()
    corner.service.member.post(f"{GROUP}/challenges/1/variations", json={"text": LINE, "name": "Ferry bell"})
    assert "Ferry bell" in corner.posted(2)[1].content


def test_a_channel_that_is_gone_parks_the_post_and_tells_the_organiser(corner: Corner) -> None:
    corner.platform.remove_channel(corner.room)
    _set(corner)
    direct = corner.platform.dm(corner.kit)
    corner.platform.until(lambda: len(corner.of_bot(direct)) == 1)
    assert "could not be brought into the group's channel" in corner.of_bot(direct)[0].content
    corner.platform.until(lambda: ("challenge", "parked") in _sent_states(corner))


def test_the_round_up_comes_with_the_result(corner: Corner) -> None:
    _set(corner)
    corner.posted()
    assert corner.service.organiser.post(f"{GROUP}/challenges/1/close").status_code == 200
    messages = corner.posted(2)
    assert "is over" in messages[1].content
    corner.platform.until(lambda: corner.posts[0].edits == 1)
    assert _labels(corner.posts[0]) == ["Round-up", "Favourites"]
