-- Who wrote a revision, and what an organiser told a lick's author with the last decision.
ALTER TABLE lick_revisions ADD COLUMN member_id INTEGER REFERENCES members (id) ON DELETE SET NULL;

ALTER TABLE licks ADD COLUMN said TEXT;

-- What members say against a lick. One without a member was written by the service: the group that a lick was borrowed from has
-- taken it down.
CREATE TABLE reports (
    id INTEGER PRIMARY KEY,
    group_id INTEGER NOT NULL,
    lick INTEGER NOT NULL,
    member_id INTEGER REFERENCES members (id) ON DELETE SET NULL,
    reason TEXT NOT NULL CHECK (reason IN ('rights', 'wrong', 'unkind', 'other', 'taken-down-at-origin')),
    text TEXT NOT NULL,
    created TEXT NOT NULL,
    decision TEXT CHECK (decision IN ('taken-down', 'kept')),
    answer TEXT,
    answered TEXT,
    FOREIGN KEY (group_id, lick) REFERENCES licks (group_id, number) ON DELETE CASCADE
) STRICT;

CREATE INDEX reports_by_group ON reports (group_id, id);

CREATE UNIQUE INDEX reports_open ON reports (group_id, lick, member_id) WHERE decision IS NULL;

CREATE UNIQUE INDEX reports_from_origin ON reports (group_id, lick)
WHERE decision IS NULL AND reason = 'taken-down-at-origin';

-- What groups share with all: a revision of a lick. Ids are never used again, so that one read a moment ago names nothing else.
CREATE TABLE swap_table (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    group_id INTEGER NOT NULL,
    lick INTEGER NOT NULL,
    revision INTEGER NOT NULL,
    published TEXT NOT NULL,
    UNIQUE (group_id, lick),
    FOREIGN KEY (group_id, lick) REFERENCES licks (group_id, number) ON DELETE CASCADE
) STRICT;

-- Where a borrowed lick comes from; rights is JSON, as they were then.
CREATE TABLE borrowed (
    group_id INTEGER NOT NULL,
    lick INTEGER NOT NULL,
    from_group_id INTEGER REFERENCES groups (id) ON DELETE SET NULL,
    from_name TEXT NOT NULL,
    from_lick INTEGER NOT NULL,
    from_revision INTEGER NOT NULL,
    rights TEXT NOT NULL,
    borrowed TEXT NOT NULL,
    PRIMARY KEY (group_id, lick),
    FOREIGN KEY (group_id, lick) REFERENCES licks (group_id, number) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;

CREATE INDEX borrowed_by_origin ON borrowed (from_group_id, from_lick);
