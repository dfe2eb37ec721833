"""Every operation of the API, asked by everybody who might: who is let in follows from one table.

A new route needs a row in ``ACTIONS``, and a body in ``BODIES`` if an empty one is none of its schema.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import httpx
import pytest

from service.groups.permissions import MAY, may
from service.store.tokens import add_token
from service.usecases.identify import new_token
from service.web.application import ROUTES
from service.web.openapi import described
from tests.support import RunningService
from tests.web.test_api import LICK, TUNE

OPEN, ANY = "open to everybody", "open to every token"
GROUP = "/v1/groups/{group}"
MEMBERS = f"{GROUP}/members"
LICKS, ONE_LICK = f"{GROUP}/licks", f"{GROUP}/licks/{{lick_number}}"
TUNES, ONE_TUNE = f"{GROUP}/tunes", f"{GROUP}/tunes/{{tune}}"
ONE_BREAK = f"{GROUP}/breaks/{{code}}"
EVENINGS, LOGS = f"{GROUP}/evenings", f"{GROUP}/practice-logs"
CHALLENGES, ONE_VARIATION = f"{GROUP}/challenges", f"{GROUP}/variations/{{variation}}"

# The action that an operation is; several where it depends on what is sent, each with a row in SENT.
ACTIONS: dict[str, str | tuple[str, ...]] = {
    "GET /v1/health/live": OPEN,
    "GET /v1/health/ready": OPEN,
    "GET /schema/openapi.json": ANY,
    "GET /metrics": "read-metrics",
    "GET /v1/instruments": ANY,
    "GET /v1/me": ANY,
    "GET /v1/me/groups": "read-own-groups",
    "POST /v1/tab/readings": ANY,
    "POST /v1/judgements": ANY,
    # groups and people
    "GET /v1/groups": "list-groups",
    "POST /v1/groups": "make-group",
    f"GET {GROUP}": "read-group",
    f"PATCH {GROUP}": "change-group",
    f"GET {GROUP}/settings": "read-group",
    f"PUT {GROUP}/settings": "change-group",
    f"GET {MEMBERS}": "read-group",
    f"POST {MEMBERS}": ("join", "change-members"),
    f"GET {MEMBERS}/{{member}}": "read-group",
    f"DELETE {MEMBERS}/{{member}}": "change-members",  # going oneself: tests/web/test_people.py
    f"PATCH {MEMBERS}/{{member}}": ("change-members", "change-oneself"),
    f"GET {GROUP}/invitations": "change-members",
    f"POST {GROUP}/invitations": "change-members",
    f"DELETE {GROUP}/invitations/{{invitation}}": "change-members",
    f"GET {GROUP}/audit": "read-audit",
    # leaving
    f"GET {GROUP}/export": "export-group",
    f"GET {MEMBERS}/{{member}}/export": "export-oneself",
    f"POST {MEMBERS}/{{member}}/erasure": "change-members",  # of oneself: tests/web/test_erasing.py
    f"DELETE {GROUP}": "delete-group",
    "POST /v1/imports": "import-group",
    # tokens
    f"GET {GROUP}/tokens": "change-tokens",
    f"POST {GROUP}/tokens": "change-tokens",
    f"POST {GROUP}/tokens/{{token}}/rotations": "change-tokens",
    f"DELETE {GROUP}/tokens/{{token}}": "change-tokens",
    "GET /v1/tokens": "change-service-tokens",
    "POST /v1/tokens": "change-service-tokens",
    "POST /v1/tokens/{token}/rotations": "change-service-tokens",
    "DELETE /v1/tokens/{token}": "change-service-tokens",
    # tunes
    f"GET {TUNES}": "read-group",
    f"POST {TUNES}": "change-tunes",
    f"GET {ONE_TUNE}": "read-group",
    f"PUT {ONE_TUNE}": "change-tunes",
    f"DELETE {ONE_TUNE}": "change-tunes",
    f"GET {ONE_TUNE}/phrases/{{phrase}}": "read-group",
    f"GET {ONE_TUNE}/phrases/{{phrase}}/licks": "read-group",
    f"GET {ONE_TUNE}/phrases/{{phrase}}/proposals": "draw-break",
    f"POST {ONE_TUNE}/phrases/{{phrase}}/proposals": "change-tunes",
    f"GET {ONE_TUNE}/positions": "read-group",
    f"POST {ONE_TUNE}/arrangements": ("draw-break", "change-tunes"),
    f"POST {ONE_TUNE}/breaks/plain": "draw-break",
    f"POST {TUNES}/files": "read-group",
    f"GET {ONE_TUNE}/{{what}}": "read-group",
    f"GET {ONE_TUNE}/{{played}}/{{what}}": "read-group",
    f"GET {GROUP}/booklet.pdf": "read-group",
    # licks
    f"GET {LICKS}": "read-group",
    f"POST {LICKS}": "add-lick",
    f"GET {LICKS}/taken-down": "take-licks-down",
    f"GET {ONE_LICK}": "read-group",
    f"PUT {ONE_LICK}": "change-own-licks",  # others' licks: tests/web/test_pool_care.py
    f"DELETE {ONE_LICK}": "change-own-licks",
    f"GET {ONE_LICK}/revisions": "read-group",
    f"GET {ONE_LICK}/revisions/{{revision}}": "read-group",
    f"POST {ONE_LICK}/revisions/{{revision}}/restore": "change-own-licks",
    f"GET {ONE_LICK}/reports": "read-group",
    f"POST {ONE_LICK}/reports": "report-lick",
    f"GET {GROUP}/reports": "answer-reports",
    f"POST {GROUP}/reports/{{report}}/answer": "answer-reports",
    f"GET {GROUP}/swap-table": "read-group",
    f"POST {GROUP}/swap-table": "share-licks",
    f"DELETE {GROUP}/swap-table/{{lick_number}}": "share-licks",
    f"POST {GROUP}/swap-table/{{shared}}/borrowings": "add-lick",
    f"POST {GROUP}/imports": "add-lick",
    f"POST {GROUP}/licks/files": "read-group",
    f"GET {ONE_LICK}/tab.txt": "read-group",
    f"GET {ONE_LICK}/taken-down": "take-licks-down",
    f"PUT {ONE_LICK}/taken-down": "take-licks-down",
    f"DELETE {ONE_LICK}/taken-down": "take-licks-down",
    f"GET {ONE_LICK}/{{what}}": "read-group",
    f"POST {ONE_LICK}/judgements": "read-group",
    f"GET {ONE_LICK}/joins/{{other}}": "read-group",
    f"GET {ONE_LICK}/twins": "read-group",
    f"GET {ONE_LICK}/easier": "read-group",
    f"POST {ONE_LICK}/moves": "read-group",
    f"POST {ONE_LICK}/review": "change-licks",
    f"POST {GROUP}/tunes/files": "read-group",
    f"GET {ONE_TUNE}/files/{{suffix}}": "read-group",
    # breaks
    f"POST {ONE_TUNE}/breaks/count": "read-group",
    f"POST {ONE_TUNE}/breaks/random": "draw-break",
    f"POST {ONE_TUNE}/breaks/best": "draw-break",
    f"POST {ONE_TUNE}/breaks/steps": "draw-break",
    f"GET {ONE_TUNE}/breaks/number/{{number}}": "draw-break",
    f"GET {ONE_BREAK}": "read-group",
    f"POST {ONE_BREAK}/swaps": ("read-group", "draw-break"),
    f"GET {ONE_BREAK}/tab.txt": "read-group",
    f"GET {ONE_BREAK}/{{what}}": "read-group",
    f"GET {ONE_BREAK}/loops/{{phrase}}/{{what}}": "read-group",
    # challenges
    f"GET {CHALLENGES}": "read-group",
    f"POST {CHALLENGES}": "run-challenges",
    f"GET {CHALLENGES}/current": "read-group",
    f"GET {CHALLENGES}/{{challenge}}": "read-group",
    f"POST {CHALLENGES}/{{challenge}}/close": "run-challenges",
    f"GET {CHALLENGES}/{{challenge}}/round-up": "read-group",
    f"GET {GROUP}/favourites": "read-group",
    f"GET {CHALLENGES}/{{challenge}}/variations": "read-group",
    f"POST {CHALLENGES}/{{challenge}}/variations": "enter-variation",
    f"POST {CHALLENGES}/{{challenge}}/variations/recordings": "enter-variation",
    f"GET {ONE_VARIATION}": "read-group",
    f"PUT {ONE_VARIATION}": "enter-variation",
    f"DELETE {ONE_VARIATION}": "enter-variation",
    f"POST {ONE_VARIATION}/review": "review-variations",
    f"GET {ONE_VARIATION}/recording": "read-group",
    f"GET {ONE_VARIATION}/{{what}}": "read-group",
    f"PUT {ONE_VARIATION}/recording": "enter-variation",
    f"PUT {ONE_VARIATION}/vote": "vote",
    f"DELETE {ONE_VARIATION}/vote": "vote",
    # evenings
    f"GET {MEMBERS}/{{member}}/tunes": "read-group",
    f"PUT {MEMBERS}/{{member}}/tunes/{{tune}}": ("keep-own-list", "change-members"),
    f"DELETE {MEMBERS}/{{member}}/tunes/{{tune}}": ("keep-own-list", "change-members"),
    f"GET {TUNES}/known": "read-group",
    f"GET {TUNES}/due": "read-group",
    f"POST {GROUP}/played": "mark-played",
    f"GET {EVENINGS}": "read-group",
    f"POST {EVENINGS}": "plan-evenings",
    f"GET {EVENINGS}/{{evening}}": "read-group",
    f"PUT {EVENINGS}/{{evening}}": "plan-evenings",
    f"DELETE {EVENINGS}/{{evening}}": "plan-evenings",
    f"DELETE {GROUP}/played/{{tune}}/{{day}}": "mark-played",
    f"POST {EVENINGS}/{{evening}}/sharing": "plan-evenings",
    f"POST {EVENINGS}/{{evening}}/played": "mark-played",
    # lessons and practice
    f"GET {GROUP}/lessons": "see-ones-own",
    f"POST {GROUP}/lessons": ("set-lessons", "keep-own-lessons"),
    f"GET {GROUP}/lessons/{{lesson}}": "see-ones-own",
    f"PATCH {GROUP}/lessons/{{lesson}}": "keep-own-lessons",
    f"DELETE {GROUP}/lessons/{{lesson}}": "keep-own-lessons",
    f"GET {LOGS}": "see-ones-own",
    f"POST {LOGS}": "log-practice",
    f"DELETE {LOGS}/{{log}}": "log-practice",
    f"GET {LOGS}/due": "see-ones-own",
    f"GET {LOGS}/progress": "see-ones-own",
    f"GET {LOGS}/progress.png": "see-ones-own",
    f"GET {MEMBERS}/{{member}}/practice": "see-ones-own",
    f"PUT {MEMBERS}/{{member}}/practice": "log-practice",
    # posts
    "POST /v1/outbox/claims": "claim-posts",
    "PUT /v1/outbox/{post_id}/sent": "claim-posts",
    "PUT /v1/outbox/{post_id}/failed": "claim-posts",
    "GET /v1/outbox/{post_id}/{what}": "claim-posts",
    f"GET {GROUP}/posts": "read-posts",
    f"POST {GROUP}/posts/retries": "read-posts",
}
# Actions that are asked about inside of others.
WITHIN: frozenset[str] = frozenset()
# What a caller must be besides: a member, somebody on a chat platform, or either.
NEEDS = {
    "join": "user",
    "read-own-groups": "person",
    "export-oneself": "member",
    "change-oneself": "member",
    "report-lick": "member",
    "keep-own-list": "member",
    "keep-own-lessons": "member",
    "set-lessons": "member",
    "log-practice": "member",
    "see-ones-own": "member",
    "enter-variation": "member",
    "vote": "member",
}

# By schema: bodies of it. Edits go without If-Match, so that nothing is changed by who is let in (428).
BODIES: dict[str, dict[str, Any]] = {
    "ReadingIn": {"text": "32514251", "instrument": "banjo"},
    "TextJudgementIn": {"text": "32514251", "instrument": "banjo", "key": "G"},
    "GroupIn": {"slug": "ferry-lane", "name": "Ferry Lane"},  # is there: 409
    "TokenIn": {"role": "member"},
    "ServiceTokenIn": {"role": "bot"},
    "TuneIn": TUNE,
    "TuneBody": {name: value for name, value in TUNE.items() if name != "slug"},
    "LickIn": LICK,
    "TakenDownIn": {"reason": "somebody asked"},
    "BestIn": {"by": "smooth", "how_many": 1},
    "MoveIn": {"semitones": 2},
    "ReviewIn": {"decision": "keep"},
    "ReportIn": {"reason": "other", "text": "so and so"},
    "AnswerIn": {"decision": "kept", "text": "so and so"},
    "ShareIn": {"lick": 99999},
    "KnownIn": {"standing": "know"},
    "EveningIn": {"day": "2026-12-01", "title": "First Tuesday"},
    "SharingIn": {"players": [{"member": 1, "instrument": "banjo"}]},
    "PlayedIn": {"tune": "no-such-tune"},
    "PlayedThenIn": {"tune": "no-such-tune"},
    "LessonIn": {"member": 9_999, "lick": 9_999_999, "due": "2026-12-01"},
    "LogIn": {"lick": 9_999_999, "bpm": 80, "clean": True, "passes": 1},
    "ErasureIn": {"licks": "keep"},
    "PracticeChoicesIn": {"shared": False, "reminders": False},
    "KeepProposalIn": {"key": "00000000"},
    "ChallengeIn": {"tune": "no-such-tune", "phrase": 1},
    "VariationIn": {"text": "32514251, 32514251"},
    "VariationReviewIn": {"decision": "accept"},
    "ClaimsIn": {"platform": "nowhere"},
    "SentIn": {"message_id": "m1"},
    "FailedIn": {"reason": "try-again"},
}
LESSON = {"lick": 9_999_999, "due": "2026-12-01"}
OWN = -1  # stands for the caller's own number; who has none is not asked
# Where what is sent decides about the action, or has to be there: the body, and path parameters.
SENT: dict[tuple[str, str], dict[str, Any]] = {
    # a guest stays one: the invitation is none
    (f"POST {MEMBERS}", "join"): {"json": {"name": "Heron", "invitation": "none"}},
    (f"POST {MEMBERS}", "change-members"): {"json": {"name": "Heron", "role": "member"}},
    (f"PATCH {MEMBERS}/{{member}}", "change-members"): {"json": {"name": "Heron"}},
    (f"PATCH {MEMBERS}/{{member}}", "change-oneself"): {"json": {}, "member": OWN},
    (f"GET {MEMBERS}/{{member}}/export", "export-oneself"): {"member": OWN},
    (f"POST {MEMBERS}/{{member}}/erasure", "change-members"): {"member": 9_999},
    (f"PUT {MEMBERS}/{{member}}/tunes/{{tune}}", "keep-own-list"): {"member": OWN, "tune": "no-such-tune"},
    (f"DELETE {MEMBERS}/{{member}}/tunes/{{tune}}", "keep-own-list"): {"member": OWN},
    (f"POST {GROUP}/lessons", "set-lessons"): {"json": {"member": 9_999, **LESSON}},
    (f"POST {GROUP}/lessons", "keep-own-lessons"): {"json": {"member": OWN, **LESSON}},
    (f"DELETE {GROUP}/played/{{tune}}/{{day}}", "mark-played"): {"day": "2026-01-01"},
    (f"POST {ONE_BREAK}/swaps", "read-group"): {"json": {"phrase": 1}},
    (f"POST {ONE_BREAK}/swaps", "draw-break"): {"json": {"phrase": 1, "lick": 1}},
    (f"GET {ONE_TUNE}/{{what}}", "read-group"): {"what": "card.svg"},
    (f"POST {ONE_TUNE}/arrangements", "draw-break"): {"json": {}, "tune": "no-such-tune"},
    (f"POST {ONE_TUNE}/arrangements", "change-tunes"): {"json": {"keep": True}, "tune": "no-such-tune"},
}
# What is there in the demo group; parameters that are not named get something that is not (404).
HERE: dict[str, object] = {
    "tune": "heron-ferry", "lick_number": 1, "other": 2, "phrase": 1, "number": 1, "what": "tab.svg", "played": "backup", "suffix": "abc",
}  # fmt: skip
NOT_HERE = {"integer": 9_999, "string": "nothing"}

DESCRIPTION = described(ROUTES)
OPERATIONS = [
    f"{method.upper()} {path}" for path, methods in DESCRIPTION["paths"].items() for method in methods
] + ["GET /schema/openapi.json"]


@dataclass(frozen=True)
class Caller:
    """``group`` is where somebody belongs, None for all and "" for none; ``number`` is a member's."""

    name: str
    headers: dict[str, str]
    role: str | None = None  # None: whose token does not hold
    group: str | None = None
    scopes: frozenset[str] | None = None
    number: int | None = None
    user: bool = False

    def enters(self, action: str, group: str | None) -> bool:
        if action == OPEN or self.role is None:
            return action == OPEN
        if action == ANY:
            return True
        if group is not None and self.group not in (None, group):
            return False
        member = self.number is not None
        is_one = {"user": self.user, "member": member, "person": self.user or member}
        needed = is_one[NEEDS[action]] if action in NEEDS else True
        return needed and may(self.role, self.scopes, action)


@dataclass(frozen=True)
class Everybody:
    client: httpx.Client
    code: str
    callers: list[Caller]


@pytest.fixture(scope="module")
def everybody(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Everybody]:
    with RunningService(tmp_path_factory.mktemp("everybody"), demo=True) as service:
        service.operator.post(
            "/v1/groups", json={"slug": "quay", "name": "Quay", "platform": "chat", "server_id": "q"}
        )
        bound = {"platform": "chat", "server_id": "f"}
        service.operator.patch("/v1/groups/ferry-lane", json=bound, headers={"If-Match": "*"})
        drawn = service.member.post("/v1/groups/ferry-lane/tunes/heron-ferry/breaks/random", json={"seed": 1})
        with httpx.Client(base_url=service.address, timeout=60) as client:
            yield Everybody(client, drawn.json()["code"], _callers(service))


def _callers(service: RunningService) -> list[Caller]:
    group_ids = dict(service.house.database.points.execute("SELECT slug, id FROM groups").fetchall())

    def token(role: str, group: str | None = None, number: int | None = None, **more: str) -> dict[str, str]:
        secret, kept = new_token()
        group_id = group_ids.get(group)

        def unit(connection: Any) -> None:
            found = connection.execute(
                "SELECT id FROM members WHERE group_id = ? AND number = ?", (group_id, number)
            ).fetchone()
            add_token(connection, kept, role, group_id, found and found[0], "2026-01-01T00:00:00Z", **more)

        service.call(lambda: service.house.database.write(unit))
        return {"Authorization": f"Bearer {secret}"}

    bot = token("bot")

    def speaking(user: str, server: str) -> dict[str, str]:
        return {**bot, "On-Behalf-Of": f"chat:{user}", "Acting-Server": server}

    def joined(user: str, **sent: object) -> int:
        answer = httpx.post(
            f"{service.address}/v1/groups/ferry-lane/members",
            json={"name": user, **sent}, headers=speaking(user, "f"),
        )  # fmt: skip
        return int(answer.json()["number"])

    organiser, member = joined("Kit", manages_server=True), joined("Otter")
    revoked = token("organiser", "ferry-lane")
    elsewhere = "UPDATE tokens SET revoked = created WHERE id = (SELECT max(id) FROM tokens)"
    service.call(lambda: service.house.database.write(lambda connection: connection.execute(elsewhere)))
    read = frozenset({"read"})
    here = "ferry-lane"
    return [
        Caller("nobody", {}),
        Caller("a token that never was", {"Authorization": "Bearer nonsense"}),
        Caller("not even a bearer", {"Authorization": "Basic bm9ib2R5Og=="}),
        Caller("a revoked token", revoked),
        Caller("an expired token", token("organiser", here, expires="2026-01-02T00:00:00Z")),
        Caller("operator", token("operator"), "operator"),
        Caller("operator held to reading", token("operator", scopes="read"), "operator", scopes=read),
        Caller("bot alone", bot, "bot"),
        Caller("bot for an organiser", speaking("Kit", "f"), "organiser", here, number=organiser, user=True),
        Caller("bot for a member", speaking("Otter", "f"), "member", here, number=member, user=True),
        Caller("bot for a guest", speaking("Stray", "f"), "guest", here, user=True),
        Caller("bot for a member, on another group's server", speaking("Otter", "q"), "guest", "quay", user=True),
        Caller("bot for a member, on no group's server", speaking("Otter", "z"), "guest", "", user=True),
        Caller("organiser", token("organiser", here, organiser), "organiser", here, number=organiser),
        Caller("organiser held to reading", token("organiser", here, organiser, scopes="read"), "organiser", here, read, organiser),
        Caller("member", token("member", here, member), "member", here, number=member),
        Caller("member held to reading", token("member", here, member, scopes="read"), "member", here, read, member),
        Caller("a member's token that is nobody's", token("member", here), "member", here),
        Caller("who was an organiser", token("organiser", here, member), "member", here, number=member),
        Caller("organiser of another group", token("organiser", "quay"), "organiser", "quay"),
    ]  # fmt: skip


def _rows(operation: str) -> tuple[str, ...]:
    found = ACTIONS.get(operation)
    assert found is not None, f"say in ACTIONS which action {operation} is"
    return (found,) if isinstance(found, str) else found


def test_every_operation_has_a_row_and_every_row_an_operation() -> None:
    assert sorted(ACTIONS) == sorted(OPERATIONS)


def test_every_action_is_that_of_some_operation() -> None:
    used = {action for operation in ACTIONS for action in _rows(operation)}
    assert used - {OPEN, ANY} | WITHIN == set(MAY)


def _asking(everybody: Everybody, operation: str, action: str) -> Callable[[Caller, str], httpx.Response]:
    """Sends the operation to a group, as somebody."""
    method, path = operation.split()
    described_here = DESCRIPTION["paths"].get(path, {}).get(method.lower(), {})
    sent = dict(SENT.get((operation, action), {}))
    content = described_here.get("requestBody", {}).get("content", {}).get("application/json")
    if content is not None and "json" not in sent:
        sent["json"] = BODIES.get(content["schema"]["$ref"].rsplit("/", 1)[1], {})
    here = {**HERE, "code": everybody.code, "break": everybody.code}
    required = [p for p in described_here.get("parameters", ()) if p["in"] == "path" or p.get("required")]
    given = {
        p["name"]: sent.pop(p["name"], here.get(p["name"], NOT_HERE.get(p["schema"].get("type"), "nothing")))
        for p in required
    }
    query = {p["name"]: given[p["name"]] for p in required if p["in"] == "query"}

    def ask(caller: Caller, group: str) -> httpx.Response:
        values = {**given, "group": group}
        if values.get("member") == OWN:
            values["member"] = caller.number
        now = dict(sent)
        if now.get("json", {}).get("member") == OWN:
            now["json"] = now["json"] | {"member": caller.number}
        return everybody.client.request(
            method, path.format_map(values), params=query, headers=caller.headers, **now
        )

    return ask


def _same(one: httpx.Response, other: httpx.Response) -> bool:
    """Whether two answers differ in nothing but the request's id."""

    def told(answer: httpx.Response) -> tuple[object, ...]:
        headers = {
            k: v
            for k, v in answer.headers.items()
            if k not in ("date", "x-request-id", "content-length", "ratelimit")
        }
        return answer.status_code, headers, {**answer.json(), "request_id": None}

    return told(one) == told(other)


@pytest.mark.parametrize("operation", OPERATIONS)
def test_who_is_let_in(everybody: Everybody, operation: str) -> None:
    wrong = []
    for action in _rows(operation):
        ask = _asking(everybody, operation, action)
        sent = SENT.get((operation, action), {})
        speaks_of_oneself = OWN in (sent.get("member"), sent.get("json", {}).get("member"))
        of_a_group = "{group}" in operation
        for caller in everybody.callers:
            if speaks_of_oneself and caller.number is None:
                continue
            nothing = ask(caller, "no-such-group")
            for group in ("ferry-lane", "quay") if of_a_group else ("no-such-group",):
                answer = ask(caller, group)
                assert answer.status_code != 400, (
                    f"BODIES or HERE need something for {operation}: {answer.text}"
                )
                # a 404 about something else than the group was let in
                refused = answer.status_code in (401, 403) or (
                    of_a_group and answer.status_code == 404 and _same(answer, nothing)
                )
                told = (
                    action,
                    caller.name,
                    group,
                    answer.status_code,
                    answer.json()["code"] if refused else "",
                )
                if refused == caller.enters(action, group if of_a_group else None):
                    wrong.append(told)
                if (caller.role is None) != (answer.status_code == 401) and action != OPEN:
                    wrong.append(told)
                # whoever does not belong to a group cannot tell it from one that is not there
                if refused and of_a_group and caller.group != group and not _same(answer, nothing):
                    wrong.append((*told, nothing.status_code))
    assert wrong == []
