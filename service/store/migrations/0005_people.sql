-- Who belongs to a group, how they came in, what their tokens reach, and what organisers did. settings is JSON (usecases/group_settings.py).
ALTER TABLE groups ADD COLUMN settings TEXT NOT NULL DEFAULT '{}';

ALTER TABLE members ADD COLUMN number INTEGER NOT NULL DEFAULT 0;

ALTER TABLE members ADD COLUMN role TEXT NOT NULL DEFAULT 'member' CHECK (role IN ('organiser', 'member'));

ALTER TABLE members ADD COLUMN platform TEXT;

ALTER TABLE members ADD COLUMN user_id TEXT;

ALTER TABLE members ADD COLUMN left_at TEXT;

-- set where somebody else made a member leave: they come back by invitation alone
ALTER TABLE members ADD COLUMN shown_out INTEGER NOT NULL DEFAULT 0;

UPDATE members SET number = (SELECT count(*) FROM members AS o WHERE o.group_id = members.group_id AND o.id <= members.id);

UPDATE members SET role = 'organiser' WHERE id IN (SELECT member_id FROM tokens WHERE role = 'organiser' AND revoked IS NULL);

CREATE UNIQUE INDEX members_by_number ON members (group_id, number);

CREATE UNIQUE INDEX members_by_user ON members (group_id, platform, user_id) WHERE user_id IS NOT NULL;

-- scopes: space-separated, null for all that the role may do
ALTER TABLE tokens ADD COLUMN scopes TEXT;

ALTER TABLE tokens ADD COLUMN expires TEXT;

ALTER TABLE tokens ADD COLUMN label TEXT;

CREATE INDEX tokens_by_group ON tokens (group_id, id);

CREATE TABLE invitations (
    id INTEGER PRIMARY KEY,
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    digest BLOB NOT NULL UNIQUE,
    role TEXT NOT NULL CHECK (role IN ('organiser', 'member')),
    uses INTEGER NOT NULL,
    expires TEXT NOT NULL,
    created TEXT NOT NULL
) STRICT;

CREATE INDEX invitations_by_group ON invitations (group_id, id);

CREATE TABLE audit (
    id INTEGER PRIMARY KEY,
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    at TEXT NOT NULL,
    token_id INTEGER,
    member_id INTEGER REFERENCES members (id) ON DELETE SET NULL,
    action TEXT NOT NULL,
    subject TEXT NOT NULL,
    params TEXT NOT NULL DEFAULT '{}'
) STRICT;

CREATE INDEX audit_by_group ON audit (group_id, id);

-- who sent a lick in
ALTER TABLE licks ADD COLUMN member_id INTEGER REFERENCES members (id) ON DELETE SET NULL;
