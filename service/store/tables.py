"""Every table of the database, once: whose its rows are, what of them goes along in a copy, what is done when somebody is erased.

A copy of a group, a copy of what is known of a member, bringing a copy in, erasing a member and deleting a group all go by
this list. ``tests/store/test_tables.py`` looks for tables and columns that are missing here.

In SQL ``:group`` and ``:member`` are row ids, ``:now`` a stamp. Columns are told as ``name``, ``name:json`` (text that holds JSON),
``name:time`` (a stamp), ``name:day``, ``name:own`` (null but in a member's
own copy), ``name>table`` (the id of a row there, told by that row's key in a copy).
"""

from dataclasses import dataclass, field

JSON, TIME, DAY, OWN = "json", "time", "day", "own"
FORMER = "\x7f"  # begins the stored name of somebody who was erased, before their number; no name can hold it

_OF_GROUP = "group_id = :group"
_NUMBER = "(SELECT number FROM members WHERE id = :member)"
_THEIR_NUMBERS = "(SELECT number FROM licks WHERE group_id = :group AND member_id = :member)"
_THEIR_LICKS = f"group_id = :group AND number IN {_THEIR_NUMBERS}"
_OF_MEMBERS = "member_id IN (SELECT id FROM members WHERE group_id = :group)"
_OF_TUNES = "tune_id IN (SELECT id FROM tunes WHERE group_id = :group)"
_OPEN_ABOUT_IT = "member_id IN (SELECT member_id FROM practice_choices WHERE shared)"
_THEIR_VARIATIONS = "SELECT id FROM variations WHERE member_id = :member"
_GONE_VARIATIONS = f"{_THEIR_VARIATIONS} AND state = 'withdrawn'"


@dataclass(frozen=True, slots=True)
class Column:
    """``kind`` is empty, JSON, TIME, DAY, OWN, or the table that a row id is of."""

    name: str
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """``of_group`` says which rows are a group's, ``of_member`` which of those tell of a member (empty: none do).

    ``along`` says which of a group's rows are in its copy: what members keep to themselves is in their own alone. ``place`` is the
    file of a copy that rows lie in, one for each row where it names the row's ``key``. ``within`` is (table, its column, own
    column): rows lie in those of that table instead, where both columns are equal. ``key`` is what others call a row by;
    ``counted`` ones have no number of their own and are counted by id. ``order`` is SQL, without it that of the key. ``left`` are
    columns that are not copied, with the reason; ``why`` is the reason where nothing of a table is. ``erase`` is done when a
    member is erased, ``remove`` before that where what they sent in goes too.
    """

    name: str
    of_group: str
    columns: tuple[Column, ...] = ()
    place: str = ""
    key: str = "number"
    along: str = "true"
    counted: bool = False
    order: str = ""
    within: tuple[str, str, str] | None = None
    of_member: str = ""
    left: dict[str, str] = field(default_factory=dict)
    why: str = ""
    erase: tuple[str, ...] = ()
    remove: tuple[str, ...] = ()


def _columns(told: str) -> tuple[Column, ...]:
    found = []
    for word in told.split():
        name, _, kind = word.replace(">", ":").partition(":")
        found.append(Column(name, kind))
    return tuple(found)


# Parents come before what refers to them.
TABLES: tuple[Table, ...] = (
    Table(
        "groups", "id = :group",
        _columns("slug name instrument tuning language platform server_id revision settings:json created:time"),
        "group.json", "slug",
        left={"pool_version": "counts changes of what is kept in memory"},
    ),
    Table(
        "members", _OF_GROUP,
        _columns("number name role platform user_id created:time left_at:time shown_out erased:time"),
        "members.json",
        of_member="id = :member",
        erase=(
            "UPDATE members SET name = char(127) || number, role = 'member', platform = NULL, user_id = NULL, "
            "left_at = coalesce(left_at, :now), erased = :now WHERE id = :member",
        ),
    ),
    Table(
        "tokens", _OF_GROUP,
        _columns("role scopes label created:time expires:time revoked:time"),
        "tokens.json", along="false", order="id",
        of_member="member_id = :member",
        left={"digest": "a secret", "member_id": "whose copy it is"},
        erase=("DELETE FROM tokens WHERE member_id = :member",),
    ),
    Table(
        "tunes", _OF_GROUP, _columns("slug revision hidden:time"), "tunes/{slug}.json", "slug"
    ),
    Table(
        "tune_revisions", _OF_TUNES,
        _columns("revision body:json created:time"),
        key="revision", within=("tunes", "id", "tune_id"),
        left={"spots": "worked out anew"},
    ),
    Table(
        "licks", _OF_GROUP,
        _columns("number revision instrument tuning state member_id>members said erased:time"),
        "licks/{number}.json",
        of_member=(
            "member_id = :member OR number IN "
            "(SELECT number FROM lick_revisions WHERE group_id = :group AND member_id = :member)"
        ),
        erase=("UPDATE licks SET said = NULL WHERE group_id = :group AND member_id = :member",),
        remove=(
            "UPDATE licks SET state = 'retired', erased = :now "
            "WHERE group_id = :group AND member_id = :member AND erased IS NULL",
        ),
    ),
    Table(
        "lick_revisions", _OF_GROUP,
        _columns("revision body:json member_id>members created:time"),
        key="revision", within=("licks", "number", "number"),
        of_member=f"member_id = :member OR {_THEIR_LICKS}",
        remove=(f"UPDATE lick_revisions SET body = '' WHERE {_THEIR_LICKS}",),
    ),
    Table(
        "taken_down", _OF_GROUP,
        _columns("state reason member_id>members created:time"),
        key="created", within=("licks", "number", "number"),
        of_member=_THEIR_LICKS,
        erase=("UPDATE taken_down SET member_id = NULL WHERE member_id = :member",),
        remove=(f"DELETE FROM taken_down WHERE {_THEIR_LICKS}",),
    ),
    Table(
        "borrowed", _OF_GROUP,
        _columns("from_name from_lick from_revision rights:json borrowed:time"),
        key="borrowed", within=("licks", "number", "lick"),
        of_member=f"lick IN {_THEIR_NUMBERS}",
        left={"from_group_id": "a group of the service that it comes from"},
        remove=(f"DELETE FROM borrowed WHERE group_id = :group AND lick IN {_THEIR_NUMBERS}",),
    ),
    Table(
        "reports", _OF_GROUP,
        _columns("lick member_id>members reason text created:time decision answer answered:time"),
        "reports.json", order="id",
        of_member="member_id = :member",
        erase=("UPDATE reports SET member_id = NULL, text = '' WHERE member_id = :member",),
        remove=(f"DELETE FROM reports WHERE group_id = :group AND lick IN {_THEIR_NUMBERS}",),
    ),
    Table(
        "breaks", _OF_GROUP,
        _columns("code tune_id>tunes tune_revision setting:json licks:json created:time"),
        "breaks.json", "code",
        left={"identity": "made anew: it names the group"},
    ),
    Table(
        "break_numbers", _OF_GROUP, _columns("snapshot number total"), order="id", within=("breaks", "code", "code")
    ),
    Table(
        "challenges", _OF_GROUP,
        _columns(
            "number state drawn tune_id>tunes tune_revision part place phrase lick lick_revision record:json secret "
            "opens:time closes:time created:time"
        ),
        "challenges.json",
        remove=(
            "UPDATE challenges SET record = json_set(record, '$.lick_name', NULL) WHERE group_id = :group "
            "AND lick IN (SELECT number FROM licks WHERE group_id = :group AND member_id = :member)",
        ),
    ),
    Table(
        "recordings", _OF_GROUP, _columns("media_type created:time"), "recordings.json",
        counted=True,
        of_member="id IN (SELECT recording_id FROM variations WHERE member_id = :member)",
        left={"content": "a file of its own", "digest": "made anew from the content"},
        erase=(
            "DELETE FROM recordings WHERE id IN (SELECT recording_id FROM variations WHERE member_id = :member)",
        ),
    ),
    Table(
        "variations", _OF_GROUP,
        _columns(
            "number challenge_id>challenges member_id>members revision state name comment body:json tab_by>members "
            "recording_id>recordings lick reason entered:time votes chances"
        ),
        "variations/{number}.json",
        of_member="member_id = :member OR tab_by = :member",
        left={"facts": "judged anew", "identity": "made anew from the notes"},
        erase=(
            "UPDATE variations SET comment = '', reason = NULL WHERE member_id = :member",
            # one that was only played has nothing left
            "UPDATE variations SET state = 'withdrawn', name = '' WHERE member_id = :member AND body IS NULL",
        ),
        remove=(
            "UPDATE variations SET state = 'withdrawn', name = '', body = NULL, facts = NULL, identity = NULL "
            "WHERE member_id = :member",
        ),
    ),
    Table(
        "votes", "challenge_id IN (SELECT id FROM challenges WHERE group_id = :group)",
        _columns("challenge_id>challenges variation_id>variations member_id>members given:time"),
        "votes.json", order="challenge_id, variation_id, member_id",
        of_member="member_id = :member",
        # where they were counted already, they are in the result
        erase=(
            "DELETE FROM votes WHERE member_id = :member "
            "AND challenge_id IN (SELECT id FROM challenges WHERE state = 'closed')",
            f"DELETE FROM votes WHERE variation_id IN ({_GONE_VARIATIONS})",
        ),
    ),
    Table(
        "posts", _OF_GROUP,
        _columns(
            "kind params:json deed about>posts recipient nonce state due:time useful_until:time claims channel message_id "
            "reason created:time done:time"
        ),
        "posts.json", counted=True,
        of_member=(
            "recipient = (SELECT user_id FROM members WHERE id = :member) "
            f"OR json_extract(params, '$.by') = {_NUMBER}"
        ),
        left={"lease_until": "nobody holds a copy's posts"},
        erase=(
            "DELETE FROM posts WHERE group_id = :group AND recipient = (SELECT user_id FROM members WHERE id = :member)",
            "UPDATE posts SET params = json_set(params, '$.comment', '') WHERE group_id = :group "
            f"AND json_extract(params, '$.by') = {_NUMBER}",
            "UPDATE posts SET params = json_set(params, '$.name', '') WHERE group_id = :group "
            "AND json_extract(params, '$.variation') IN "
            "(SELECT number FROM variations WHERE member_id = :member AND state = 'withdrawn')",
            "UPDATE posts SET params = json_set(params, '$.standings', (SELECT json_group_array(CASE "
            "WHEN json_extract(s.value, '$.variation') IN "
            "(SELECT number FROM variations WHERE member_id = :member AND state = 'withdrawn') "
            "THEN json_set(s.value, '$.name', '') ELSE json(s.value) END) FROM json_each(params, '$.standings') s)) "
            "WHERE group_id = :group AND json_type(params, '$.standings') = 'array'",
        ),
        remove=(
            "UPDATE posts SET params = json_set(params, '$.lick_name', NULL) WHERE group_id = :group "
            "AND json_extract(params, '$.lick') IN "
            "(SELECT number FROM licks WHERE group_id = :group AND member_id = :member)",
        ),
    ),
    Table(
        "known_tunes", _OF_MEMBERS,
        _columns("member_id>members tune_id>tunes standing sings_in note"),
        "known_tunes.json", order="member_id, tune_id",
        of_member="member_id = :member",
        erase=("DELETE FROM known_tunes WHERE member_id = :member",),
    ),
    Table("evenings", _OF_GROUP, _columns("number revision day:day title record:json"), "evenings.json"),
    Table(
        "played", _OF_TUNES, _columns("tune_id>tunes day:day evening_id>evenings"),
        "played.json", order="tune_id, day",
    ),
    Table(
        "lessons", _OF_GROUP,
        _columns(
            "number member_id>members teacher_id>members piece due:day comment level:own shared done created:time"
        ),
        "lessons.json", along="shared",
        of_member="member_id = :member OR teacher_id = :member",
        erase=("DELETE FROM lessons WHERE member_id = :member OR teacher_id = :member",),
    ),
    Table(
        "practice_logs", _OF_MEMBERS,
        _columns(
            "member_id>members piece day:day bpm unit clean passes without_tab from_memory minutes created:time"
        ),
        "practice_logs.json", along=_OPEN_ABOUT_IT, order="id",
        of_member="member_id = :member",
        erase=("DELETE FROM practice_logs WHERE member_id = :member",),
    ),
    Table(
        "practice_choices", _OF_MEMBERS, _columns("member_id>members shared reminders"),
        "practice_choices.json", along="shared", order="member_id",
        of_member="member_id = :member",
        erase=("DELETE FROM practice_choices WHERE member_id = :member",),
    ),
    Table(
        "reminders", _OF_MEMBERS, _columns("member_id>members piece step due:day"),
        "reminders.json", along=_OPEN_ABOUT_IT, order="member_id, piece",
        of_member="member_id = :member",
        erase=("DELETE FROM reminders WHERE member_id = :member",),
    ),
    Table(
        "audit", _OF_GROUP,
        _columns("at:time member_id>members action subject params:json"),
        # copies do not tell of copies: nothing else changed, so the next one is the same
        "audit.json", along="action NOT IN ('export-group', 'import-group')", order="id",
        of_member=f"member_id = :member OR subject = 'member ' || {_NUMBER}",
        left={"token_id": "a token's, and tokens are not copied"},
        erase=("UPDATE audit SET member_id = NULL WHERE member_id = :member",),
    ),
)  # fmt: skip


# In no copy.
LEFT_OUT: tuple[Table, ...] = (
    Table("migrations", "", why="says how far the database is"),
    Table("deleted_groups", "", why="of the service, no group's"),
    Table("invitations", _OF_GROUP, why="secrets: whoever holds one could come into the copy too"),
    Table("served", _OF_GROUP, why="what was drawn lately: elsewhere the round begins anew"),
    Table(
        "swap_table", _OF_GROUP, why="what is shared elsewhere is for the group to say there",
        remove=(f"DELETE FROM swap_table WHERE group_id = :group AND lick IN {_THEIR_NUMBERS}",),
    ),
    Table(
        "due", _OF_GROUP, why="written anew: it follows from settings, the challenge that is open, and what is kept by heart",
        erase=("DELETE FROM due WHERE group_id = :group AND kind = 'practice' AND subject = :member",),
    ),
    Table(
        "idempotency_keys",
        "(caller IN (SELECT 'token:' || id FROM tokens WHERE group_id = :group) "
        "OR caller LIKE 'token:%:' || :group || ':%')",
        why="answers for some hours to whoever asked",
        # they hold what was said and played, in answers to others as well; those of another group's people do not
        erase=(
            "DELETE FROM idempotency_keys WHERE caller IN (SELECT 'token:' || id FROM tokens "
            "WHERE group_id = :group OR group_id IS NULL) OR caller LIKE 'token:%:' || :group || ':%'",
        ),
    ),
    Table("lick_facts", _OF_GROUP, why="judged anew", remove=(f"DELETE FROM lick_facts WHERE {_THEIR_LICKS}",)),
    Table("lick_columns", _OF_GROUP, why="judged anew", remove=(f"DELETE FROM lick_columns WHERE {_THEIR_LICKS}",)),
    Table("phrase_facts", _OF_GROUP, why="judged anew", remove=(f"DELETE FROM phrase_facts WHERE {_THEIR_LICKS}",)),
)  # fmt: skip

BY_NAME = {table.name: table for table in TABLES}
