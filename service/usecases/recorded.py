"""Recordings as variations: known by what is in them, kept as they come, played back."""

import hashlib
from sqlite3 import Connection

from service.clock import stamp
from service.errors import Conflict, DomainError, Forbidden, NotFound
from service.music.tunes import place_name
from service.store import variations as rows
from service.store.groups import GroupRow
from service.store.variations import ENTERED, HELD, Content, RecordingRow
from service.usecases.house import House
from service.usecases.identify import Caller, member_of, reach_group
from service.usecases.once import Once, check_once, write_once
from service.usecases.spots import challenge_record
from service.usecases.variations import (
    Variation,
    announce,
    check_room,
    find_variation,
    may_see,
    open_challenge,
    shown,
)

# Container or codec, the bytes that it begins with and where, and its media type; from the formats' own specifications: RFC 3533
# (Ogg), RFC 9639 (FLAC), RIFF, ISO/IEC 14496-12 (ftyp), Matroska (EBML), ID3v2 and MPEG audio frames, RFC 4867 (AMR).
_BEGINNINGS: tuple[tuple[int, bytes, str], ...] = (
    (0, b"OggS", "audio/ogg"),
    (0, b"fLaC", "audio/flac"),
    (8, b"WAVE", "audio/wav"),
    (4, b"ftypM4A", "audio/mp4"),
    (4, b"ftypmp4", "audio/mp4"),
    (4, b"ftypisom", "audio/mp4"),
    (4, b"ftypiso", "audio/mp4"),
    (4, b"ftyp3gp", "audio/3gpp"),
    (0, b"\x1a\x45\xdf\xa3", "audio/webm"),
    (0, b"ID3", "audio/mpeg"),
    (0, b"#!AMR", "audio/amr"),
)
SUFFIXES = {
    "audio/ogg": "ogg",
    "audio/flac": "flac",
    "audio/wav": "wav",
    "audio/mp4": "m4a",
    "audio/3gpp": "3gp",
    "audio/webm": "webm",
    "audio/mpeg": "mp3",
    "audio/aac": "aac",
    "audio/amr": "amr",
}


def recording_type(content: bytes) -> str:
    """The media type of a sound by its first bytes. Raises DomainError ``no-recording``."""
    for start, wanted, media_type in _BEGINNINGS:
        if content[start : start + len(wanted)] == wanted:
            return media_type
    if len(content) > 4 and content[0] == 0xFF and content[1] & 0xE0 == 0xE0:
        layer = content[1] >> 1 & 3  # 0 is ADTS, AAC's own framing; 1 is MP3
        if layer in (0, 1, 2):
            return "audio/aac" if layer == 0 else "audio/mpeg"
    raise DomainError("no-recording")


def _room_for(house: House, group: GroupRow, content: bytes) -> None:
    """Raises DomainError ``too-large``, Conflict ``recordings-full``."""
    if len(content) > house.settings.recording_mib << 20:
        raise DomainError("too-large", most=house.settings.recording_mib << 20)
    used = rows.recorded_bytes(house.database.points, group.id)
    if used + len(content) > house.settings.recordings_mib << 20:
        raise Conflict("recordings-full", most=house.settings.recordings_mib)


async def enter_recording(
    house: House,
    caller: Caller,
    group_slug: str,
    challenge_number: int,
    name: str | None,
    comment: str,
    content: bytes,
    once: Once[Variation] | None,
) -> Variation:
    """A variation that was played: it is in the challenge as it is, and anybody may write it down later."""
    group = reach_group(house, caller, group_slug, "enter-variation")
    member_id = member_of(caller)
    check_once(house, caller, once)
    digest, now = hashlib.sha256(content).digest(), stamp(house.clock())
    challenge = open_challenge(house.database.points, group.id, challenge_number, now)
    media_type = recording_type(content)
    _room_for(house, group, content)
    tune_name = challenge_record(challenge.record).tune_name
    title = name or f"{tune_name} {place_name(challenge.part, challenge.place)}"

    def unit(connection: Connection) -> Variation:
        open_challenge(connection, group.id, challenge_number, now)
        check_room(connection, challenge, member_id)
        kept = rows.add_recording(connection, group.id, media_type, digest, content, now)
        said = Content(ENTERED, title, comment, None, None, None)
        number = rows.add_variation(connection, group.id, challenge.id, member_id, said, kept, now)
        row = find_variation(connection, group.id, number)
        announce(connection, group, row, challenge, now)
        return shown(connection, row, challenge, caller)

    return await write_once(house, caller, once, unit)


async def set_recording(
    house: House, caller: Caller, group_slug: str, number: int, content: bytes
) -> Variation:
    """Add a recording to one's own variation, or another in its place, which begins without votes, before the challenge closes."""
    group = reach_group(house, caller, group_slug, "enter-variation")
    member_id = member_of(caller)
    media_type = recording_type(content)
    _room_for(house, group, content)
    digest, now = hashlib.sha256(content).digest(), stamp(house.clock())

    def unit(connection: Connection) -> Variation:
        row = find_variation(connection, group.id, number)
        if row.member_id != member_id:
            raise Forbidden("not-yours", what="variation")
        if row.state not in (HELD, ENTERED):
            raise Conflict("not-entered", variation=number)
        challenge = open_challenge(connection, group.id, row.challenge, now)
        kept = rows.add_recording(connection, group.id, media_type, digest, content, now)
        if row.recording_id is not None:
            rows.drop_votes(connection, row)
        rows.set_recording(connection, row.id, kept)
        row = find_variation(connection, group.id, number)
        announce(connection, group, row, challenge, now)
        return shown(connection, row, challenge, caller)

    return await house.database.write(unit)


def get_recording(house: House, caller: Caller, group_slug: str, number: int) -> RecordingRow:
    """The recording as it came. Raises NotFound."""
    group = reach_group(house, caller, group_slug, "read-group")
    row = find_variation(house.database.points, group.id, number)
    may_see(row, caller)
    found = None if row.recording_id is None else rows.recording(house.database.points, row.recording_id)
    if found is None:
        raise NotFound("not-found", what="recording")
    return found
