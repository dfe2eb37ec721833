-- What a chat asks for: the groups of a person, the announcement of a challenge, licks by their kind and by words of their names.

CREATE INDEX members_by_person ON members (platform, user_id, group_id) WHERE user_id IS NOT NULL;

CREATE INDEX posts_by_challenge ON posts (group_id, json_extract(params, '$.challenge'), id)
WHERE kind = 'challenge' AND deed = 'send';

-- What licks are looked for by stands in it as well, so that bodies need not be read; erased ones are empty.
CREATE INDEX revisions_by_name ON lick_revisions (
    group_id, number, revision,
    json_extract(body, '$.name'), json_extract(body, '$.role'), json_extract(body, '$.level'), json_extract(body, '$.style')
) WHERE body <> '';

-- Revisions of a group in the order they were written (by rowid): the names that are new.
CREATE INDEX revisions_by_age ON lick_revisions (group_id);
