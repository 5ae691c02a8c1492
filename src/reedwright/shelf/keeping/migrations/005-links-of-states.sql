-- What an item belonged to in each of its states, so that going back to a state goes back to that, too.
-- Table `link` says what it belongs to now.

ALTER TABLE state ADD COLUMN links TEXT NOT NULL DEFAULT '[]'; -- JSON: [[role, to_item], ...], in order

UPDATE state SET links = (
    SELECT json_group_array(json_array(role, to_item))
    FROM (SELECT role, to_item FROM link WHERE link.item = state.item ORDER BY role, place)
) WHERE item IN (SELECT item FROM link);
