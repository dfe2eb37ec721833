-- What composing looks at, apart from the rest, so that a large pool is read in one go.
CREATE TABLE lick_columns (
    group_id INTEGER NOT NULL,
    number INTEGER NOT NULL,
    revision INTEGER NOT NULL,
    rules INTEGER NOT NULL,
    packed BLOB NOT NULL,
    PRIMARY KEY (group_id, number, revision),
    FOREIGN KEY (group_id, number, revision) REFERENCES lick_revisions (group_id, number, revision) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;

-- Read by what is played over, not by lick. What was judged by earlier rules is made again.
DROP TABLE phrase_facts;

CREATE TABLE phrase_facts (
    group_id INTEGER NOT NULL,
    ground BLOB NOT NULL,
    number INTEGER NOT NULL,
    revision INTEGER NOT NULL,
    rules INTEGER NOT NULL,
    packed BLOB NOT NULL,
    PRIMARY KEY (group_id, ground, number, revision),
    FOREIGN KEY (group_id, number, revision) REFERENCES lick_revisions (group_id, number, revision) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
