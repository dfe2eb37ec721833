-- What members know and sing, what was played on which day, evenings, lessons, practice. Days are dates in the group's zone.
-- sings_in: names of keys with spaces between them, empty for none.
CREATE TABLE known_tunes (
    member_id INTEGER NOT NULL REFERENCES members (id) ON DELETE CASCADE,
    tune_id INTEGER NOT NULL REFERENCES tunes (id) ON DELETE CASCADE,
    standing TEXT NOT NULL CHECK (standing IN ('know', 'learning', 'parked')),
    sings_in TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    PRIMARY KEY (member_id, tune_id)
) STRICT, WITHOUT ROWID;

CREATE INDEX known_tunes_by_tune ON known_tunes (tune_id, standing);

-- record is JSON (usecases/evenings.py): tunes in their order, who kicks off and who takes which break.
CREATE TABLE evenings (
    id INTEGER PRIMARY KEY,
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    revision INTEGER NOT NULL,
    day TEXT NOT NULL,
    title TEXT NOT NULL,
    record TEXT NOT NULL,
    UNIQUE (group_id, number)
) STRICT;

CREATE TABLE played (
    tune_id INTEGER NOT NULL REFERENCES tunes (id) ON DELETE CASCADE,
    day TEXT NOT NULL,
    evening_id INTEGER REFERENCES evenings (id) ON DELETE SET NULL,
    PRIMARY KEY (tune_id, day)
) STRICT, WITHOUT ROWID;

CREATE INDEX played_by_evening ON played (evening_id) WHERE evening_id IS NOT NULL;

-- piece is what is practised: 'lick 42', 'break 7P5MNCRY', or 'break 7P5MNCRY 3' for the loop of its phrase 3.
CREATE TABLE lessons (
    id INTEGER PRIMARY KEY,
    group_id INTEGER NOT NULL REFERENCES groups (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    member_id INTEGER NOT NULL REFERENCES members (id) ON DELETE CASCADE,
    teacher_id INTEGER NOT NULL REFERENCES members (id) ON DELETE CASCADE,
    piece TEXT NOT NULL,
    due TEXT NOT NULL,
    comment TEXT NOT NULL,
    level INTEGER CHECK (level BETWEEN 1 AND 5),
    shared INTEGER NOT NULL DEFAULT 0,
    done INTEGER NOT NULL DEFAULT 0,
    created TEXT NOT NULL,
    UNIQUE (group_id, number)
) STRICT;

CREATE INDEX lessons_by_member ON lessons (member_id);

CREATE INDEX lessons_by_teacher ON lessons (teacher_id);

CREATE TABLE practice_logs (
    id INTEGER PRIMARY KEY,
    member_id INTEGER NOT NULL REFERENCES members (id) ON DELETE CASCADE,
    piece TEXT NOT NULL,
    day TEXT NOT NULL,
    bpm INTEGER NOT NULL,
    unit TEXT NOT NULL,
    clean INTEGER NOT NULL,
    passes INTEGER NOT NULL,
    without_tab INTEGER NOT NULL,
    from_memory INTEGER NOT NULL,
    minutes INTEGER,
    created TEXT NOT NULL
) STRICT;

CREATE INDEX practice_logs_by_member ON practice_logs (member_id, id);

CREATE INDEX practice_logs_by_piece ON practice_logs (member_id, piece, day, id);

CREATE INDEX practice_logs_by_day ON practice_logs (member_id, day);

CREATE TABLE practice_choices (
    member_id INTEGER PRIMARY KEY REFERENCES members (id) ON DELETE CASCADE,
    shared INTEGER NOT NULL,
    reminders INTEGER NOT NULL
) STRICT;

-- What a member plays without tab or from memory, and the day on which to try whether it is still there.
CREATE TABLE reminders (
    member_id INTEGER NOT NULL REFERENCES members (id) ON DELETE CASCADE,
    piece TEXT NOT NULL,
    step INTEGER NOT NULL,
    due TEXT NOT NULL,
    PRIMARY KEY (member_id, piece)
) STRICT, WITHOUT ROWID;

CREATE INDEX reminders_by_day ON reminders (due);
