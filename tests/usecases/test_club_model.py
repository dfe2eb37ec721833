"""A club's life as a model: whatever members, the clock, the bot and crashes do in whatever order, the store says the same as a
few dictionaries do."""

import asyncio
import shutil
import tempfile
from collections.abc import Coroutine
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, initialize, invariant, precondition, rule

from service.app import open_house
from service.errors import BreakwrightError
from service.settings import load_settings
from service.store.idempotency import Answer
from service.store.posts import posts_before
from service.store.variations import variation_by_number
from service.usecases import challenges, people, posting, recorded, variations, voting
from service.usecases.group_settings import GroupSettings
from service.usecases.groups import change_group, change_settings
from service.usecases.house import House
from service.usecases.identify import Caller
from service.usecases.once import Answered, Once
from service.usecases.weekly import run_due
from tests.clocks import SetClock
from tests.support import seeded

T = TypeVar("T")
GROUP = "ferry-lane"
OPERATOR = Caller(1, "operator", None, None)
WEEK_BEGINS = "2026-11-02T18:00:00Z"


@dataclass
class Entry:
    author: int
    challenge: int
    state: str = "entered"
    votes: set[int] = field(default_factory=set)


class Club(RuleBasedStateMachine):
    """Members and variations are known by their numbers."""

    members = Bundle("members")
    entries = Bundle("entries")

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="club-model-"))
        self.loop = asyncio.new_event_loop()
        self.clock = SetClock("2026-11-02T12:00:00Z")
        self.people: dict[int, Caller] = {}
        self.variations: dict[int, Entry] = {}
        self.open: int | None = None
        self.closed: set[int] = set()
        self.challenges = 0
        self.sent: dict[int, str] = {}
        self.last: tuple[int, str, bytes, int] | None = (
            None  # what was entered last: who, key, sound, variation
        )
        self.lives = 0
        data = self.folder / "life-0"
        data.mkdir()
        shutil.copyfile(seeded(), data / "breakwright.sqlite3")
        self._open_house(data)

    def _open_house(self, data: Path) -> None:
        self.data = data
        self.opened = open_house(load_settings({}, data=str(data), log_level="error"), self.clock)
        self.house: House = self.do(self.opened.__aenter__())

    def do(self, work: Coroutine[Any, Any, T]) -> T:
        return self.loop.run_until_complete(work)

    @initialize()
    def the_group_has_a_server(self) -> None:
        self.do(change_group(self.house, OPERATOR, GROUP, 1, {"platform": "chat", "server_id": "77"}))
        chosen = GroupSettings(channel="licks", time="18:00", draws=False)
        self.do(change_settings(self.house, OPERATOR, GROUP, 2, chosen))

    @rule(target=members, manages=st.booleans())
    @precondition(lambda self: len(self.people) < 5)
    def somebody_joins(self, manages: bool) -> int:
        group = self.house.database.points.execute("SELECT id FROM groups").fetchone()[0]
        user = ("chat", f"user-{len(self.people)}")
        guest = Caller(2, "guest", group, None, user=user)
        row = self.do(people.join(self.house, guest, GROUP, "Somebody", None, manages))
        first = manages and not any(caller.role == "organiser" for caller in self.people.values())
        assert row.role == ("organiser" if first else "member")
        self.people[row.number] = Caller(2, row.role, group, row.id, member_number=row.number, user=user)
        return row.number

    @rule()
    @precondition(lambda self: self.open is None)
    def a_challenge_is_set(self) -> None:
        wish = challenges.Wish("heron-ferry", 1 + self.challenges % 16)
        made = self.do(challenges.make_challenge(self.house, OPERATOR, GROUP, wish, None))
        self.challenges += 1
        assert made.row.number == self.challenges
        self.open = made.row.number

    @rule()
    def a_second_challenge_is_refused_while_one_is_open(self) -> None:
        if self.open is not None:
            wish = challenges.Wish("heron-ferry", 2)
            with pytest.raises(BreakwrightError, match="challenge-under-way"):
                self.do(challenges.make_challenge(self.house, OPERATOR, GROUP, wish, None))

    @rule(target=entries, who=members, sound=st.binary(max_size=20))
    @precondition(lambda self: self.open is not None)
    def somebody_enters_a_variation(self, who: int, sound: bytes) -> int:
        assert self.open is not None
        key = f"key-{len(self.variations)}"
        number = self._enter(who, key, sound, self.open)
        assert number not in self.variations
        self.variations[number] = Entry(who, self.open)
        self.last = (who, key, sound, number)
        return number

    def _enter(self, who: int, key: str, sound: bytes, challenge: int) -> int:
        once: Once[variations.Variation] = Once(
            key, sound, lambda made: Answer(sound, 201, "{}", str(made.row.number).encode())
        )
        content = b"OggS" + sound
        made = self.do(
            recorded.enter_recording(
                self.house, self.people[who], GROUP, challenge, "Name", "", content, once
            )
        )
        return made.row.number

    @rule()
    @precondition(lambda self: self.last is not None and self.open == self.variations[self.last[3]].challenge)
    def the_same_is_sent_again_with_its_key(self) -> None:
        assert self.last is not None
        who, key, sound, number = self.last
        with pytest.raises(Answered) as before:
            self._enter(who, key, sound, self.variations[number].challenge)
        assert before.value.answer.body == str(number).encode()

    @rule(who=members, entry=entries, given=st.booleans())
    def somebody_votes_or_takes_a_vote_back(self, who: int, entry: int, given: bool) -> None:
        of = self.variations[entry]
        voting_now = voting.vote(self.house, self.people[who], GROUP, entry, given=given)
        if of.state != "entered" or of.challenge != self.open or of.author == who:
            with pytest.raises(BreakwrightError):
                self.do(voting_now)
            return
        shown = self.do(voting_now)
        (of.votes.add if given else of.votes.discard)(who)
        assert (shown.votes, shown.voted) == (len(of.votes), given)

    @rule(who=members, entry=entries)
    def somebody_withdraws(self, who: int, entry: int) -> None:
        of = self.variations[entry]
        work = variations.withdraw(self.house, self.people[who], GROUP, entry)
        if of.state != "entered" or of.challenge != self.open or of.author != who:
            with pytest.raises(BreakwrightError):
                self.do(work)
            return
        self.do(work)
        of.state, of.votes = "withdrawn", set()

    @rule()
    @precondition(lambda self: self.open is not None)
    def the_challenge_is_closed_by_hand(self) -> None:
        assert self.open is not None
        self.do(challenges.close_challenge(self.house, OPERATOR, GROUP, self.open))
        self._closed()

    @rule(days=st.integers(1, 9))
    def days_go_by(self, days: int) -> None:
        self.clock.on(days=days)
        self.do(run_due(self.house))
        if self.open is not None:
            found = challenges.get_challenge(self.house, OPERATOR, GROUP, self.open)
            if found.row.state == "closed":
                assert found.row.closes <= f"{self.clock.now:%Y-%m-%dT%H:%M:%SZ}"
                self._closed()

    def _closed(self) -> None:
        assert self.open is not None
        self.closed.add(self.open)
        self.open = None

    @rule(answers=st.lists(st.sampled_from(["sent", "failed", "silent"]), min_size=3, max_size=3))
    def a_bot_claims_posts(self, answers: list[str]) -> None:
        bot = Caller(3, "bot", None, None)
        for claimed, answer in zip(
            self.do(posting.claim(self.house, bot, "chat", 3, 60)), answers, strict=False
        ):
            post = claimed.row.id
            assert post not in self.sent
            if answer == "sent":
                message = claimed.row.message_id or f"m{post}"
                self.do(posting.mark_sent(self.house, bot, post, message))
                self.sent[post] = message
            elif answer == "failed":
                self.do(posting.mark_failed(self.house, bot, post, "try-again", None))

    @rule()
    def the_power_goes_and_comes_back(self) -> None:
        """What lies on the disk at this moment is all that the next life has."""
        self.lives += 1
        data = self.folder / f"life-{self.lives}"
        data.mkdir()
        for ending in ("", "-wal"):
            file = self.data / f"breakwright.sqlite3{ending}"
            if file.exists():
                shutil.copyfile(file, data / file.name)
        self.do(self.opened.__aexit__(None, None, None))
        self._open_house(data)

    @invariant()
    def the_store_says_the_same(self) -> None:
        points = self.house.database.points
        states = dict(points.execute("SELECT number, state FROM challenges").fetchall())
        expected = dict.fromkeys(self.closed, "closed") | ({self.open: "open"} if self.open else {})
        assert states == expected
        for number, of in self.variations.items():
            row = variation_by_number(points, 1, number)
            assert row is not None
            assert row.state == of.state
            counted = points.execute(
                "SELECT count(*) FROM votes WHERE variation_id = ?", (row.id,)
            ).fetchone()
            assert counted == (len(of.votes),)
            if of.challenge in self.closed and of.state == "entered":
                assert row.votes == len(of.votes)
                assert len(of.votes) <= (row.chances or 0) < max(len(self.people), 1)
        assert points.execute("SELECT count(*) FROM variations").fetchone() == (len(self.variations),)

    @invariant()
    def each_challenge_is_announced_once_and_rounded_up_once(self) -> None:
        kinds = [
            post.kind
            for post in posts_before(self.house.database.points, 1, 2**62, 1000)
            if post.deed == "send"
        ]
        assert kinds.count("challenge") == self.challenges
        assert kinds.count("round-up") == len(self.closed)
        sent = self.house.database.points.execute("SELECT id, message_id FROM posts WHERE state = 'sent'")
        assert dict(sent.fetchall()) == self.sent

    def teardown(self) -> None:
        self.do(self.opened.__aexit__(None, None, None))
        self.loop.run_until_complete(self.loop.shutdown_default_executor())
        self.loop.close()
        shutil.rmtree(self.folder)


TestClub = Club.TestCase
TestClub.settings = settings(max_examples=25, stateful_step_count=40)
