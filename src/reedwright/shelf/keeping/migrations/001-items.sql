-- Items, their states, how they belong together, and the files beside the database.

CREATE TABLE attachment (
    sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64),
    bytes  INTEGER NOT NULL CHECK (bytes >= 0)
) WITHOUT ROWID;

CREATE TABLE item (
    id      INTEGER PRIMARY KEY AUTOINCREMENT,
    uid     TEXT NOT NULL UNIQUE CHECK (length(uid) = 32),
    kind    TEXT NOT NULL,
    name    TEXT NOT NULL,
    state   INTEGER NOT NULL,           -- number of the present state
    left_at INTEGER NOT NULL DEFAULT 0, -- state that undoing left last, for redoing; 0: none
    removed INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    FOREIGN KEY (id, state) REFERENCES state (item, number) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX item_by_kind ON item (kind, name);

CREATE TABLE state (
    item       INTEGER NOT NULL REFERENCES item (id) ON DELETE CASCADE,
    number     INTEGER NOT NULL CHECK (number >= 1),
    parent     INTEGER NOT NULL DEFAULT 0 CHECK (parent < number),
    at         TEXT NOT NULL,           -- UTC, ISO 8601
    said       TEXT NOT NULL DEFAULT '',
    name       TEXT NOT NULL,           -- the item's name in this state
    form       TEXT NOT NULL,
    text       TEXT NOT NULL DEFAULT '',
    attachment TEXT REFERENCES attachment (sha256),
    about      TEXT NOT NULL DEFAULT '{}', -- JSON
    PRIMARY KEY (item, number)
) WITHOUT ROWID;
CREATE INDEX state_by_attachment ON state (attachment) WHERE attachment IS NOT NULL;

CREATE TABLE link (
    item  INTEGER NOT NULL REFERENCES item (id) ON DELETE CASCADE,
    role  TEXT NOT NULL,
    place INTEGER NOT NULL DEFAULT 0,
    -- After the primary key: where it stood inside it, SQLite 3.40's integrity check saw a NULL.
    to_item INTEGER NOT NULL REFERENCES item (id) ON DELETE CASCADE,
    PRIMARY KEY (item, role, place)
) WITHOUT ROWID;
CREATE INDEX link_by_to ON link (to_item, role);
