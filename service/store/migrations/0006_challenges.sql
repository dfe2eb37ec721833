-- A challenge is a phrase of a tune, perhaps a lick to begin from, and a week. part and place say which phrase of its part it is,
-- phrase its first number in playing order. record is JSON (usecases/challenges.py).
CREATE TABLE challenges (
    id INTEGER PRIMARY KEY,
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('planned', 'open', 'closed', 'cancelled')),
    drawn INTEGER NOT NULL,
    tune_id INTEGER NOT NULL REFERENCES tunes (id),
    tune_revision INTEGER NOT NULL,
    part TEXT NOT NULL,
    place INTEGER NOT NULL,
    phrase INTEGER NOT NULL,
    lick INTEGER,
    lick_revision INTEGER,
    record TEXT NOT NULL,
    secret INTEGER NOT NULL,
    opens TEXT NOT NULL,
    closes TEXT NOT NULL,
    created TEXT NOT NULL,
    UNIQUE (group_id, number)
) STRICT;

-- One challenge of a group is open at a time, and one is planned.
CREATE UNIQUE INDEX challenges_under_way ON challenges (group_id, state) WHERE state IN ('planned', 'open');

-- What the clock will do. A row is taken away by the transaction that does it, so it is done once.
CREATE TABLE due (
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    kind TEXT NOT NULL CHECK (kind IN ('week', 'open', 'remind', 'close', 'practice')),
    subject INTEGER NOT NULL,
    at TEXT NOT NULL,
    PRIMARY KEY (group_id, kind, subject)
) STRICT, WITHOUT ROWID;

CREATE INDEX due_by_time ON due (at);

CREATE TABLE recordings (
    id INTEGER PRIMARY KEY,
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    media_type TEXT NOT NULL,
    digest BLOB NOT NULL,
    content BLOB NOT NULL,
    created TEXT NOT NULL
) STRICT;

CREATE INDEX recordings_by_group ON recordings (group_id);

-- body is a lick as licks keep it, null while there is only a recording. held: what was found keeps it out until it is mended or
-- accepted. votes and chances are counted when its challenge closes.
CREATE TABLE variations (
    id INTEGER PRIMARY KEY,
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    challenge_id INTEGER NOT NULL REFERENCES challenges (id) ON DELETE CASCADE,
    member_id INTEGER REFERENCES members (id) ON DELETE SET NULL,
    revision INTEGER NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('held', 'entered', 'refused', 'withdrawn')),
    name TEXT NOT NULL,
    comment TEXT NOT NULL,
    body TEXT,
    facts TEXT,
    identity BLOB,
    tab_by INTEGER REFERENCES members (id) ON DELETE SET NULL,
    recording_id INTEGER REFERENCES recordings (id) ON DELETE SET NULL,
    lick INTEGER,
    reason TEXT,
    entered TEXT NOT NULL,
    votes INTEGER,
    chances INTEGER,
    UNIQUE (group_id, number)
) STRICT;

CREATE INDEX variations_by_challenge ON variations (challenge_id, number);

CREATE INDEX variations_by_lick ON variations (group_id, lick) WHERE lick IS NOT NULL;

CREATE INDEX variations_by_member ON variations (member_id);

CREATE TABLE votes (
    challenge_id INTEGER NOT NULL REFERENCES challenges (id) ON DELETE CASCADE,
    variation_id INTEGER NOT NULL REFERENCES variations (id) ON DELETE CASCADE,
    member_id INTEGER NOT NULL REFERENCES members (id) ON DELETE CASCADE,
    given TEXT NOT NULL,
    PRIMARY KEY (challenge_id, variation_id, member_id)
) STRICT, WITHOUT ROWID;

CREATE INDEX votes_by_member ON votes (member_id);

-- What the chat shall post. about is the earlier post that is edited or deleted; recipient a user of the platform for a message to
-- one person; lease the claim that holds it.
CREATE TABLE posts (
    id INTEGER PRIMARY KEY,
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    kind TEXT NOT NULL,
    params TEXT NOT NULL,
    deed TEXT NOT NULL CHECK (deed IN ('send', 'edit', 'delete')),
    about INTEGER REFERENCES posts (id) ON DELETE CASCADE,
    recipient TEXT,
    nonce TEXT,
    state TEXT NOT NULL CHECK (state IN ('waiting', 'claimed', 'sent', 'parked', 'lapsed')),
    due TEXT NOT NULL,
    useful_until TEXT,
    claims INTEGER NOT NULL DEFAULT 0,
    lease_until TEXT,
    channel TEXT,
    message_id TEXT,
    reason TEXT,
    created TEXT NOT NULL,
    done TEXT
) STRICT;

CREATE INDEX posts_under_way ON posts (group_id, id) WHERE state IN ('waiting', 'claimed');

CREATE INDEX posts_by_time ON posts (due, id) WHERE state IN ('waiting', 'claimed');

CREATE INDEX posts_by_group ON posts (group_id, id);
