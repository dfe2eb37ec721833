CREATE TABLE groups (
    id INTEGER PRIMARY KEY,
    slug TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    instrument TEXT NOT NULL,
    tuning TEXT NOT NULL,
    language TEXT NOT NULL DEFAULT 'en',
    platform TEXT,
    server_id TEXT,
    revision INTEGER NOT NULL DEFAULT 1,
    pool_version INTEGER NOT NULL DEFAULT 0,
    created TEXT NOT NULL,
    UNIQUE (platform, server_id)
) STRICT;

CREATE TABLE members (
    id INTEGER PRIMARY KEY,
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    name TEXT NOT NULL,
    created TEXT NOT NULL,
    UNIQUE (group_id, name)
) STRICT;

CREATE TABLE tokens (
    id INTEGER PRIMARY KEY,
    digest BLOB NOT NULL UNIQUE,
    role TEXT NOT NULL CHECK (role IN ('operator', 'bot', 'organiser', 'member')),
    group_id INTEGER REFERENCES groups (id) ON DELETE CASCADE,
    member_id INTEGER REFERENCES members (id) ON DELETE CASCADE,
    created TEXT NOT NULL,
    revoked TEXT,
    CHECK ((role IN ('operator', 'bot')) = (group_id IS NULL))
) STRICT;

CREATE TABLE tunes (
    id INTEGER PRIMARY KEY,
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    slug TEXT NOT NULL,
    revision INTEGER NOT NULL,
    hidden TEXT,
    UNIQUE (group_id, slug)
) STRICT;

CREATE TABLE tune_revisions (
    tune_id INTEGER NOT NULL REFERENCES tunes (id) ON DELETE CASCADE,
    revision INTEGER NOT NULL,
    body TEXT NOT NULL,
    created TEXT NOT NULL,
    PRIMARY KEY (tune_id, revision)
) STRICT, WITHOUT ROWID;

CREATE TABLE licks (
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    revision INTEGER NOT NULL,
    instrument TEXT NOT NULL,
    tuning TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('pool', 'retired')),
    PRIMARY KEY (group_id, number)
) STRICT, WITHOUT ROWID;

CREATE INDEX licks_by_instrument ON licks (group_id, state, instrument, tuning);

CREATE TABLE lick_revisions (
    group_id INTEGER NOT NULL,
    number INTEGER NOT NULL,
    revision INTEGER NOT NULL,
    body TEXT NOT NULL,
    created TEXT NOT NULL,
    PRIMARY KEY (group_id, number, revision),
    FOREIGN KEY (group_id, number) REFERENCES licks (group_id, number) ON DELETE CASCADE
) STRICT;

CREATE TABLE breaks (
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    code TEXT NOT NULL,
    identity BLOB NOT NULL,
    tune_id INTEGER NOT NULL REFERENCES tunes (id),
    tune_revision INTEGER NOT NULL,
    setting TEXT NOT NULL,
    licks TEXT NOT NULL,
    created TEXT NOT NULL,
    PRIMARY KEY (group_id, code),
    UNIQUE (group_id, identity)
) STRICT;

CREATE TABLE break_numbers (
    id INTEGER PRIMARY KEY,
    group_id INTEGER NOT NULL,
    code TEXT NOT NULL,
    snapshot TEXT NOT NULL,
    number TEXT NOT NULL,
    total TEXT NOT NULL,
    UNIQUE (group_id, snapshot, number),
    FOREIGN KEY (group_id, code) REFERENCES breaks (group_id, code) ON DELETE CASCADE
) STRICT;

CREATE INDEX break_numbers_by_code ON break_numbers (group_id, code);

CREATE TABLE served (
    id INTEGER PRIMARY KEY,
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    tune_id INTEGER NOT NULL REFERENCES tunes (id),
    snapshot TEXT NOT NULL,
    number TEXT NOT NULL,
    code TEXT NOT NULL,
    created TEXT NOT NULL
) STRICT;

CREATE INDEX served_by_tune ON served (tune_id, snapshot, number);

CREATE TABLE idempotency_keys (
    caller TEXT NOT NULL,
    key TEXT NOT NULL,
    request BLOB NOT NULL,
    status INTEGER NOT NULL,
    headers TEXT NOT NULL,
    body BLOB NOT NULL,
    created TEXT NOT NULL,
    PRIMARY KEY (caller, key)
) STRICT, WITHOUT ROWID;

CREATE INDEX idempotency_keys_by_age ON idempotency_keys (created);
