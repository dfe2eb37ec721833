-- What a service with thousands of groups looks up often, found without looking at all there is.

-- The phrases of a tune that a challenge can be about, as JSON (usecases/spots.py); null where it was kept before this.
ALTER TABLE tune_revisions ADD COLUMN spots TEXT;

-- At one moment many things are due; closing comes before a new week.
DROP INDEX due_by_time;

CREATE INDEX due_by_time ON due (at, kind);

-- Posts that are of no use any more.
CREATE INDEX posts_by_use ON posts (useful_until) WHERE state = 'waiting' AND claims = 0;

-- Tokens of whoever leaves.
CREATE INDEX tokens_by_member ON tokens (member_id);

-- What was served of a tune last, and longest ago.
CREATE INDEX served_by_age ON served (tune_id, id);

-- How variations came out, without reading them.
CREATE INDEX variations_counted ON variations (group_id, state, number, votes, chances, lick)
WHERE state = 'entered' AND votes IS NOT NULL;
