-- What tunes are searched by, worked out from their present state and worked out again when it changes.

CREATE TABLE fact (
    item     INTEGER PRIMARY KEY REFERENCES item (id) ON DELETE CASCADE,
    state    INTEGER NOT NULL,          -- the state that they were worked out from
    rules    INTEGER NOT NULL,          -- version of the rules that they were worked out by
    number   TEXT NOT NULL,             -- X:
    title    TEXT NOT NULL,
    titles   TEXT NOT NULL,             -- all of them, one a line
    type     TEXT NOT NULL,
    key      TEXT NOT NULL,             -- as `Key.name`
    tonic    INTEGER NOT NULL,          -- pitch class; -1 for a tune without key
    mode     TEXT NOT NULL,
    metre    TEXT NOT NULL,
    lowest   INTEGER NOT NULL,          -- MIDI notes of the melody; 0 for a tune without notes
    highest  INTEGER NOT NULL,
    pitches_low  INTEGER NOT NULL,      -- bit n: MIDI note n is in the melody, 0 to 62
    pitches_high INTEGER NOT NULL,      -- bit n: MIDI note 63 + n
    notes    INTEGER NOT NULL,          -- written
    bars     INTEGER NOT NULL,
    form     TEXT NOT NULL,             -- AABB
    composer TEXT NOT NULL,
    rights   TEXT NOT NULL,
    fields   TEXT NOT NULL,             -- JSON: [[code, text], ...] of the header
    music    TEXT NOT NULL,             -- hash of the music, whatever its words
    melody   BLOB NOT NULL              -- strips of the melody, packed (facts/melodies.py)
);
CREATE INDEX fact_by_music ON fact (music);

CREATE TABLE grade (
    item   INTEGER NOT NULL REFERENCES item (id) ON DELETE CASCADE,
    player TEXT NOT NULL,               -- name of the profile
    state  INTEGER NOT NULL,
    rules  INTEGER NOT NULL,
    harp   TEXT NOT NULL,               -- the harp that it lies best on for that player
    octaves INTEGER NOT NULL,
    grade  REAL NOT NULL,
    PRIMARY KEY (item, player)
) WITHOUT ROWID;

-- Has a text been taken in before, whatever number its first line gives it? Of every state, so that
-- a tune that was changed on the shelf since is known by what it was. (filling/known.py)
CREATE INDEX state_by_tune_text ON state (
    length(text) - instr(text, char(10)), substr(text, instr(text, char(10)) + 1, 80)
) WHERE form = 'abc';

-- The states that came from a file, by the tune's number there and its title.
CREATE INDEX state_by_file ON state (
    json_extract(about, '$.file'), json_extract(about, '$.number'), name
) WHERE json_extract(about, '$.file') IS NOT NULL;
