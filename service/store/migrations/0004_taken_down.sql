-- Licks taken down: out of the pool and off every page until they are put back; state is what they go back to. A lick that is
-- taken down stands as retired in licks, so that whatever reads the pool need not look here.
CREATE TABLE taken_down (
    group_id INTEGER NOT NULL,
    number INTEGER NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('draft', 'reviewed', 'pool', 'retired')),
    reason TEXT NOT NULL,
    member_id INTEGER REFERENCES members (id) ON DELETE SET NULL,
    created TEXT NOT NULL,
    PRIMARY KEY (group_id, number),
    FOREIGN KEY (group_id, number) REFERENCES licks (group_id, number) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
