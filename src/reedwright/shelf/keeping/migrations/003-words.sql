-- Words to find tunes by, and the few facts that a search runs through, kept up to date by
-- triggers: whoever puts, changes or removes a tune need know nothing of them (shelf/finding).

-- Letters that lose no accent but become others, and apostrophes: as `finding/folding.py` has them.
CREATE VIEW folded AS SELECT item,
    replace(replace(replace(replace(replace(replace(replace(replace(replace(
    replace(replace(replace(replace(replace(replace(replace(replace(replace(
    replace(replace(replace(replace(replace(titles
        , '''', ''), '’', ''), '‘', ''), 'ʼ', ''), '`', ''), '´', ''), 'ø', 'o')
        , 'Ø', 'o'), 'ł', 'l'), 'Ł', 'l'), 'ß', 'ss'), 'ẞ', 'ss'), 'æ', 'ae')
        , 'Æ', 'ae'), 'œ', 'oe'), 'Œ', 'oe'), 'đ', 'd'), 'Đ', 'd'), 'ð', 'd')
        , 'Ð', 'd'), 'þ', 'th'), 'Þ', 'th'), 'ı', 'i') AS titles,
    replace(replace(replace(replace(replace(replace(replace(replace(replace(
    replace(replace(replace(replace(replace(replace(replace(replace(replace(
    replace(replace(replace(replace(replace(fields
        , '''', ''), '’', ''), '‘', ''), 'ʼ', ''), '`', ''), '´', ''), 'ø', 'o')
        , 'Ø', 'o'), 'ł', 'l'), 'Ł', 'l'), 'ß', 'ss'), 'ẞ', 'ss'), 'æ', 'ae')
        , 'Æ', 'ae'), 'œ', 'oe'), 'Œ', 'oe'), 'đ', 'd'), 'Đ', 'd'), 'ð', 'd')
        , 'Ð', 'd'), 'þ', 'th'), 'Þ', 'th'), 'ı', 'i') AS fields
FROM fact;

-- The texts of a tune by kind of field; what only musicians' programs read is left out.
CREATE VIEW words_of AS SELECT item, titles,
    (SELECT group_concat(json_extract(value, '$[1]'), ' ; ') FROM json_each(fields)
        WHERE json_extract(value, '$[0]') = 'C') AS composer,
    (SELECT group_concat(json_extract(value, '$[1]'), ' ; ') FROM json_each(fields)
        WHERE json_extract(value, '$[0]') = 'O') AS origin,
    (SELECT group_concat(json_extract(value, '$[1]'), ' ; ') FROM json_each(fields)
        WHERE json_extract(value, '$[0]') = 'A') AS area,
    (SELECT group_concat(json_extract(value, '$[1]'), ' ; ') FROM json_each(fields)
        WHERE json_extract(value, '$[0]') = 'R') AS rhythm,
    (SELECT group_concat(json_extract(value, '$[1]'), ' ; ') FROM json_each(fields)
        WHERE json_extract(value, '$[0]') = 'B') AS book,
    (SELECT group_concat(json_extract(value, '$[1]'), ' ; ') FROM json_each(fields)
        WHERE json_extract(value, '$[0]') = 'D') AS disc,
    (SELECT group_concat(json_extract(value, '$[1]'), ' ; ') FROM json_each(fields)
        WHERE json_extract(value, '$[0]') = 'F') AS file,
    (SELECT group_concat(json_extract(value, '$[1]'), ' ; ') FROM json_each(fields)
        WHERE json_extract(value, '$[0]') = 'G') AS family,
    (SELECT group_concat(json_extract(value, '$[1]'), ' ; ') FROM json_each(fields)
        WHERE json_extract(value, '$[0]') = 'H') AS history,
    (SELECT group_concat(json_extract(value, '$[1]'), ' ; ') FROM json_each(fields)
        WHERE json_extract(value, '$[0]') = 'N') AS notes,
    (SELECT group_concat(json_extract(value, '$[1]'), ' ; ') FROM json_each(fields)
        WHERE json_extract(value, '$[0]') = 'S') AS source,
    (SELECT group_concat(json_extract(value, '$[1]'), ' ; ') FROM json_each(fields)
        WHERE json_extract(value, '$[0]') = 'Z') AS transcriber,
    (SELECT group_concat(json_extract(value, '$[1]'), ' ; ') FROM json_each(fields)
        WHERE json_extract(value, '$[0]') = 'W') AS lyrics,
    (SELECT group_concat(json_extract(value, '$[1]'), ' ; ') FROM json_each(fields)
        WHERE json_extract(value, '$[0]') NOT IN
        ('C', 'O', 'A', 'R', 'B', 'D', 'F', 'G', 'H', 'N', 'S', 'Z', 'W',
        'T', 'X', 'I', 'K', 'L', 'M', 'm', 'P', 'Q', 'U', 'V', 'w', 's', 'r', '+')) AS other
FROM folded;

CREATE VIRTUAL TABLE words USING fts5(
    titles, composer, origin, area, rhythm, book, disc,
    file, family, history, notes, source,
    transcriber, lyrics, other,
    content = 'words_of', content_rowid = 'item', prefix = '1 2 3',
    tokenize = "unicode61 remove_diacritics 2"
);
CREATE VIRTUAL TABLE vocabulary USING fts5vocab(words, 'row');

CREATE TABLE sought (                   -- narrow, so that all of it is run through in milliseconds
    item    INTEGER PRIMARY KEY REFERENCES item (id) ON DELETE CASCADE,
    state   INTEGER NOT NULL,
    removed INTEGER NOT NULL,
    stamp   INTEGER NOT NULL,           -- by lot, anew when the melody changes
    sort    TEXT NOT NULL,              -- the title, without `The` in front
    type    TEXT NOT NULL,
    tonic   INTEGER NOT NULL,
    mode    TEXT NOT NULL,
    metre   TEXT NOT NULL,
    lowest  INTEGER NOT NULL,
    highest INTEGER NOT NULL,
    pitches_low  INTEGER NOT NULL,
    pitches_high INTEGER NOT NULL
);
CREATE INDEX sought_by_type ON sought (type);

CREATE TABLE sought_state (             -- one row: by lot, anew when anything above changes
    one   INTEGER PRIMARY KEY CHECK (one = 1),
    token INTEGER NOT NULL
);
INSERT INTO sought_state (one, token) VALUES (1, random());

CREATE VIEW sought_of AS SELECT fact.item, fact.state,
    (SELECT removed FROM item WHERE id = fact.item) AS removed,
    CASE
        WHEN bare LIKE 'the %' THEN substr(bare, 5)
        WHEN bare LIKE 'an %' THEN substr(bare, 4)
        WHEN bare LIKE 'a %' THEN substr(bare, 3)
        ELSE bare
    END AS sort,
    lower(type) AS type, tonic, mode, metre, lowest, highest, pitches_low, pitches_high
FROM (SELECT *, lower(ltrim(title, ' "''“”„‘’([.')) AS bare FROM fact) AS fact;

CREATE TRIGGER fact_sought_new AFTER INSERT ON fact BEGIN
    INSERT INTO words (rowid, titles, composer, origin, area, rhythm, book,
        disc, file, family, history, notes, source,
        transcriber, lyrics, other)
        SELECT item, titles, composer, origin, area, rhythm, book,
        disc, file, family, history, notes, source,
        transcriber, lyrics, other FROM words_of WHERE item = NEW.item;
    INSERT INTO sought SELECT item, state, removed, random(), sort, type, tonic, mode, metre,
        lowest, highest, pitches_low, pitches_high FROM sought_of WHERE item = NEW.item;
    UPDATE sought_state SET token = random();
END;

-- The index must be told to forget what it was told before: so it is done before the change.
CREATE TRIGGER fact_words_old BEFORE UPDATE ON fact BEGIN
    INSERT INTO words (words, rowid, titles, composer, origin, area, rhythm, book,
        disc, file, family, history, notes, source,
        transcriber, lyrics, other)
        SELECT 'delete', item, titles, composer, origin, area, rhythm, book,
        disc, file, family, history, notes, source,
        transcriber, lyrics, other FROM words_of WHERE item = OLD.item;
END;
CREATE TRIGGER fact_sought_changed AFTER UPDATE ON fact BEGIN
    INSERT INTO words (rowid, titles, composer, origin, area, rhythm, book,
        disc, file, family, history, notes, source,
        transcriber, lyrics, other)
        SELECT item, titles, composer, origin, area, rhythm, book,
        disc, file, family, history, notes, source,
        transcriber, lyrics, other FROM words_of WHERE item = NEW.item;
    UPDATE sought SET (state, removed, sort, type, tonic, mode, metre, lowest, highest, pitches_low,
        pitches_high) = (SELECT state, removed, sort, type, tonic, mode, metre, lowest, highest,
        pitches_low, pitches_high FROM sought_of WHERE item = NEW.item) WHERE item = NEW.item;
    UPDATE sought SET stamp = random() WHERE item = NEW.item AND OLD.melody != NEW.melody;
    UPDATE sought_state SET token = random();
END;

CREATE TRIGGER fact_sought_gone BEFORE DELETE ON fact BEGIN
    INSERT INTO words (words, rowid, titles, composer, origin, area, rhythm, book,
        disc, file, family, history, notes, source,
        transcriber, lyrics, other)
        SELECT 'delete', item, titles, composer, origin, area, rhythm, book,
        disc, file, family, history, notes, source,
        transcriber, lyrics, other FROM words_of WHERE item = OLD.item;
    DELETE FROM sought WHERE item = OLD.item;
    UPDATE sought_state SET token = random();
END;

CREATE TRIGGER item_sought_removed AFTER UPDATE OF removed ON item
WHEN OLD.removed != NEW.removed AND NEW.kind = 'tune' BEGIN
    UPDATE sought SET removed = NEW.removed WHERE item = NEW.id;
    UPDATE sought_state SET token = random();
END;

-- Tunes that were on the shelf before.
INSERT INTO words (rowid, titles, composer, origin, area, rhythm, book,
        disc, file, family, history, notes, source,
        transcriber, lyrics, other)
    SELECT item, titles, composer, origin, area, rhythm, book,
        disc, file, family, history, notes, source,
        transcriber, lyrics, other FROM words_of;
INSERT INTO sought SELECT item, state, removed, random(), sort, type, tonic, mode, metre, lowest,
    highest, pitches_low, pitches_high FROM sought_of;
