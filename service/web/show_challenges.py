"""Challenges, variations and posts as they go over the wire."""

from typing import Any

from schemas.challenges import (
    ChallengeOut,
    GoalOut,
    PostOut,
    PostStateOut,
    StandingOut,
    VariationOut,
)
from schemas.judgements import TempoOut
from service.clock import moment
from service.groups.ballots import Standing
from service.groups.weeks import zone_named
from service.music.passages import lick_passage
from service.store.groups import GroupRow
from service.store.posts import PostRow
from service.store.variations import VariationRow
from service.usecases.challenges import CHALLENGE, REMINDER, Challenge
from service.usecases.group_settings import settings_of
from service.usecases.posting import Claimed
from service.usecases.shown_licks import shown_of
from service.usecases.spots import setting_of_challenge
from service.usecases.variations import VARIATION, Variation
from service.web.charted import chords_line
from service.web.judged import finding_out, fit_out
from service.web.problems import place
from service.web.show import member_name, notes_out, rights_out, setting_out
from service.wording import say

MESSAGE = 2_000  # characters that chats take in a message
NAME_SHOWN = 50  # characters of a name in a round-up


def challenge_out(found: Challenge, group: str) -> ChallengeOut:
    row, record = found.row, found.record
    base = f"/v1/groups/{group}/challenges/{row.number}"
    links = {
        "self": base,
        "variations": f"{base}/variations",
        "round-up": f"{base}/round-up",
        "tune": f"/v1/groups/{group}/tunes/{row.tune}",
    }
    if row.lick is not None:
        links["lick"] = f"/v1/groups/{group}/licks/{row.lick}"
    return ChallengeOut(
        number=row.number,
        state=row.state,
        drawn=bool(row.drawn),
        tune=row.tune,
        tune_name=record.tune_name,
        phrase=row.phrase,
        part=row.part,
        place=row.place,
        role=record.role,
        chords=record.chords,
        setting=setting_out(setting_of_challenge(record)),
        lick=row.lick,
        lick_name=record.lick_name,
        goals=[
            GoalOut(level=level, tempo=TempoOut(bpm=bpm, unit=record.unit), ladder=ladder)
            for level, bpm, ladder in record.goals
        ],
        note=record.note,
        secret=bool(row.secret),
        opens=row.opens,
        closes=row.closes,
        links=links,
    )


def variation_out(found: Variation, group: str, language: str) -> VariationOut:
    row, lick, facts = found.row, found.lick, found.facts
    base = f"/v1/groups/{group}/variations/{row.number}"
    links = {"self": base, "challenge": f"/v1/groups/{group}/challenges/{row.challenge}"}
    if lick is not None:
        links |= {"picture": f"{base}/tab.png", "sheet": f"{base}/sheet.pdf", "sound": f"{base}/break.mp3"}
    if row.recording_id is not None:
        links["recording"] = f"{base}/recording"
    if row.lick is not None:
        links["lick"] = f"/v1/groups/{group}/licks/{row.lick}"
    shown = None if lick is None else found.shown or shown_of(lick)
    top = None if lick is None or facts is None else facts.top_bpm(lick.meter)
    return VariationOut(
        number=row.number,
        challenge=row.challenge,
        revision=row.revision,
        state=row.state,
        name=row.name,
        by=row.member,
        by_name=row.member_name and member_name(row.member_name, language),
        comment=row.comment,
        reason=row.reason,
        entered=row.entered,
        votes=found.votes,
        mine=found.mine,
        voted=found.voted,
        instrument=None if lick is None else lick.instrument.id,
        level=None if lick is None else lick.level,
        chords=None if lick is None else chords_line(lick.changes),
        notes=None if lick is None or shown is None else notes_out(lick_passage(lick), shown.fingers),
        tab=None if shown is None else shown.tab,
        line=None if shown is None else shown.line,
        fit=None if lick is None or shown is None else fit_out(shown.fit, lick, language),
        top=None if top is None or lick is None else TempoOut(bpm=top, unit=lick.meter.beat_unit),
        reasons=[]
        if facts is None or lick is None
        else [finding_out(finding, lick, language) for finding in facts.findings],
        warnings=[place(fault, language) for fault in found.warnings],
        rights=None if found.record is None else rights_out(found.record.rights),
        tab_by=row.tab_by,
        recording=row.recording_id is not None,
        lick=row.lick,
        links=links,
    )


def standing_out(standing: Standing, row: VariationRow, language: str) -> StandingOut:
    return StandingOut(
        rank=standing.rank,
        variation=row.number,
        name=row.name,
        by=row.member,
        by_name=row.member_name and member_name(row.member_name, language),
        votes=standing.votes,
        chances=standing.chances,
        score=round(float(standing.score), 4),
        lick=row.lick,
    )


def post_out(claimed: Claimed) -> PostOut:
    row, group = claimed.row, claimed.group
    return PostOut(
        id=row.id,
        kind=row.kind,
        deed=row.deed,
        group=group.slug,
        platform=group.platform or "",
        server_id=group.server_id or "",
        channel=row.channel,
        recipient=row.recipient,
        message_id=row.message_id,
        nonce=row.nonce,
        perhaps_sent=claimed.perhaps_sent,
        lease_until=row.lease_until or "",
        under=claimed.under,
        language=group.language,
        text=post_text(claimed, group),
        params=_with_names(claimed),
    )


def _with_names(claimed: Claimed) -> dict[str, Any]:
    """Params as they are now: members by the names they have today."""
    params = dict(claimed.params)
    names = {by: member_name(name, claimed.group.language) for by, name in claimed.names.items()}
    if "by" in params:
        params["by_name"] = names.get(params["by"])
    if "standings" in params:
        params["standings"] = [
            {**entry, "name": entry["name"] or "…", "by_name": names.get(entry["by"])}
            for entry in params["standings"]
        ]
    if "closes" in params:
        zone = settings_of(claimed.group).zone
        local = moment(params["closes"]).astimezone(zone_named(zone))
        params["until"] = f"{local:%Y-%m-%d %H:%M} ({zone})"
    return params


def post_text(claimed: Claimed, group: GroupRow) -> str:
    """A post in the group's language."""
    params, language = _with_names(claimed), group.language
    plain = {name: value for name, value in params.items() if not isinstance(value, list)}
    over = claimed.row.kind == CHALLENGE and params["state"] != "open"
    lines = [say("post-challenge-over" if over else f"post-{claimed.row.kind}", plain, language)]
    if claimed.row.kind == CHALLENGE and not over:
        aims = [bpm for _, bpm in params["goals"]]
        lines.append(say("post-goals", {**plain, "easiest": aims[0], "hardest": aims[-1]}, language))
    lines += [say("post-standing", _short(entry), language) for entry in params.get("standings", ())]
    if not over and claimed.row.kind in (CHALLENGE, REMINDER, VARIATION):
        lines += [params[said] for said in ("note", "comment") if params.get(said)]
    whole = "\n".join(lines)
    return whole if len(whole) <= MESSAGE else f"{whole[: MESSAGE - 1]}…"


def _short(entry: dict[str, Any]) -> dict[str, Any]:
    """Ten places with long names must fit into one message."""
    return {
        name: value if not isinstance(value, str) or len(value) <= NAME_SHOWN else f"{value[:NAME_SHOWN]}…"
        for name, value in entry.items()
    }


def post_state_out(row: PostRow) -> PostStateOut:
    return PostStateOut(
        id=row.id,
        kind=row.kind,
        deed=row.deed,
        state=row.state,
        reason=row.reason,
        due=row.due,
        created=row.created,
        done=row.done,
        channel=row.channel,
        message_id=row.message_id,
    )
