-- Licks may wait as drafts. A table's check cannot be changed in place, and licks own their revisions, so both are made anew.
CREATE TABLE licks_made_anew (
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    revision INTEGER NOT NULL,
    instrument TEXT NOT NULL,
    tuning TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('draft', 'reviewed', 'pool', 'retired')),
    PRIMARY KEY (group_id, number)
) STRICT, WITHOUT ROWID;

INSERT INTO licks_made_anew (group_id, number, revision, instrument, tuning, state)
SELECT group_id, number, revision, instrument, tuning, state FROM licks;

CREATE TABLE lick_revisions_made_anew (
    group_id INTEGER NOT NULL,
    number INTEGER NOT NULL,
    revision INTEGER NOT NULL,
    body TEXT NOT NULL,
    created TEXT NOT NULL,
    PRIMARY KEY (group_id, number, revision),
    FOREIGN KEY (group_id, number) REFERENCES licks_made_anew (group_id, number) ON DELETE CASCADE
) STRICT;

INSERT INTO lick_revisions_made_anew (group_id, number, revision, body, created)
SELECT group_id, number, revision, body, created FROM lick_revisions;

DROP TABLE lick_revisions;

DROP TABLE licks;

ALTER TABLE licks_made_anew RENAME TO licks;

ALTER TABLE lick_revisions_made_anew RENAME TO lick_revisions;

CREATE INDEX licks_by_instrument ON licks (group_id, state, instrument, tuning);

-- What is judged of a revision once, by the version of the rules; shape is what twins are found by, identity what two equal licks share.
CREATE TABLE lick_facts (
    group_id INTEGER NOT NULL,
    number INTEGER NOT NULL,
    revision INTEGER NOT NULL,
    rules INTEGER NOT NULL,
    body TEXT NOT NULL,
    shape BLOB NOT NULL,
    identity BLOB NOT NULL,
    PRIMARY KEY (group_id, number, revision),
    FOREIGN KEY (group_id, number, revision) REFERENCES lick_revisions (group_id, number, revision) ON DELETE CASCADE
) STRICT;

CREATE INDEX lick_facts_by_identity ON lick_facts (group_id, identity);

-- What is judged of a revision over a kind of phrase (chords, meter, key, melody there).
CREATE TABLE phrase_facts (
    group_id INTEGER NOT NULL,
    number INTEGER NOT NULL,
    revision INTEGER NOT NULL,
    ground BLOB NOT NULL,
    rules INTEGER NOT NULL,
    fit REAL NOT NULL,
    share REAL NOT NULL,
    hurts INTEGER NOT NULL,
    recall REAL NOT NULL,
    kept INTEGER NOT NULL,
    strong INTEGER NOT NULL,
    PRIMARY KEY (group_id, number, revision, ground),
    FOREIGN KEY (group_id, number, revision) REFERENCES lick_revisions (group_id, number, revision) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
