-- Tunes that are settings of one another: found by their music, judged by people.

CREATE TABLE compared (
    item  INTEGER PRIMARY KEY REFERENCES item (id) ON DELETE CASCADE,
    state INTEGER NOT NULL,             -- the state that was compared with all others
    rules INTEGER NOT NULL,             -- version of the rules that it was compared by
    runs  BLOB NOT NULL,                -- its runs of intervals, uint32 (tune/likeness/grams.py)
    called TEXT NOT NULL                -- its title, folded (likenesses/namesakes.py)
);

CREATE TABLE likeness (
    one     INTEGER NOT NULL REFERENCES item (id) ON DELETE CASCADE,
    other   INTEGER NOT NULL REFERENCES item (id) ON DELETE CASCADE,
    score   REAL NOT NULL,              -- 0 to 1
    differs TEXT NOT NULL,              -- JSON: how the other differs from the one
    rules   INTEGER NOT NULL,           -- version of the rules that they were compared by
    verdict TEXT NOT NULL DEFAULT 'offered'
        CHECK (verdict IN ('offered', 'settings', 'other tunes')),
    PRIMARY KEY (one, other),
    CHECK (one < other)
) WITHOUT ROWID;
CREATE INDEX likeness_by_other ON likeness (other, one);
CREATE INDEX likeness_by_verdict ON likeness (verdict, score);

CREATE TABLE judged (                   -- what people said, in order, so that it can be undone
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    step   INTEGER NOT NULL,            -- what was said at once is undone at once
    at     TEXT NOT NULL,               -- UTC, ISO 8601
    one    INTEGER NOT NULL REFERENCES item (id) ON DELETE CASCADE,
    other  INTEGER NOT NULL REFERENCES item (id) ON DELETE CASCADE,
    before TEXT NOT NULL,
    after  TEXT NOT NULL
);
CREATE INDEX judged_by_step ON judged (step);
