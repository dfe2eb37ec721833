-- When somebody had themselves erased (their name is then a mark that no name can be), and when a lick was blanked for good.
ALTER TABLE members ADD COLUMN erased TEXT;

ALTER TABLE licks ADD COLUMN erased TEXT;

-- Ids of groups that are gone: none is given again, so that nothing kept in memory for one is taken for another's.
CREATE TABLE deleted_groups (
    id INTEGER PRIMARY KEY
) STRICT;
