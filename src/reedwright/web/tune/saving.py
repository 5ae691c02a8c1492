"""What is typed, kept: every text a state of its own, also one that cannot be read as it stands.

Public: `save_text`, `save_copy`.
"""

from __future__ import annotations

from reedwright.errors import ReedwrightError
from reedwright.shelf.belongings.arrangements import choices_on, keep_choices
from reedwright.shelf.facts.keeping import put_facts
from reedwright.shelf.facts.reading import HEADER, LINE
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ChangedMeanwhile, Form, Kind, ShelfError
from reedwright.shelf.together import BESIDE, revise_together
from reedwright.tab.choices.session import Session
from reedwright.tune.model import Tune
from reedwright.web.music.opening import Looked, looked_at, read_text, usual_arrangement
from reedwright.web.music.stepping import CHANGED, facts_of_text
from reedwright.web.tune.choosing import notices

_TITLE = "T:"


def save_text(shelf: Shelf, number: int, text: str, made_from: int) -> tuple[str, ...]:
    """Keep the text as the tune's new state, where it is another one; says which choices no longer
    find their notes, or do again.

    Raises `ChangedMeanwhile` where the tune is no longer in the state `made_from`, `ShelfError`
    for a tune that is no ABC, and as `looked_at`.
    """
    looked = looked_at(shelf, number)
    if not looked.editable:
        raise ShelfError(
            f"{looked.item.name}: this tune came from a file that is not ABC. Make an ABC copy, "
            "and change that."
        )
    if looked.item.state.text == text:
        return ()
    header = str(looked.item.state.about.get(HEADER, ""))
    facts = facts_of_text(text, header, looked.item.name)
    with shelf.change():
        now = shelf.item(number)
        if now.state.number != made_from:
            raise ChangedMeanwhile(CHANGED)
        about = {key: value for key, value in now.state.about.items() if key not in (LINE, BESIDE)}
        changed = revise_together(
            shelf,
            now,
            usual_arrangement(shelf, number),
            text,
            _what_changed(now.state.text, text),
            name=facts.title if facts else _title_in(text) or now.name,
            form=Form.ABC,
            about=about,
        )
        if facts is not None:
            put_facts(shelf, number, changed.state.number, facts)
    return _lost_choices(looked, read_text(text, header).tune)


def _lost_choices(before: Looked, after: Tune | None) -> tuple[str, ...]:
    if after is None or not before.choices.choices + before.choices.aside:
        return ()
    known = notices(Session(before.tune, before.choices)) if before.tune else ()
    try:
        return tuple(each for each in notices(Session(after, before.choices)) if each not in known)
    except ReedwrightError:  # a voice that is gone: told where the music is not drawn
        return ()


def save_copy(shelf: Shelf, number: int, text: str) -> int:
    """Keep the text as a tune of its own, with the choices of this one; gives its number. Also of
    a tune that was taken off while it was being written.

    Raises `NotOnShelf` where no tune has that number, `ChoicesError` for choices that a newer
    version wrote.
    """
    with shelf.reading():
        item = shelf.item(number, Kind.TUNE)
        choices = choices_on(shelf, number)
    header = str(item.state.about.get(HEADER, ""))
    facts = facts_of_text(text, header, item.name)
    name = facts.title if facts else _title_in(text) or item.name
    about: dict[str, str | int] = {HEADER: header} if header else {}
    with shelf.change():
        made = shelf.add(Kind.TUNE, name, Form.ABC, text, said="copied", about=about)
        if facts is not None:
            put_facts(shelf, made.id, made.state.number, facts)
        if choices is not None and not choices.empty:
            keep_choices(shelf, made.id, choices, "copied with the tune")
    return made.id


def _title_in(text: str) -> str:
    """The first title of a text that cannot be read as a tune."""
    titles = (line[2:].strip() for line in text.splitlines() if line.startswith(_TITLE))
    return next((" ".join(title.split()) for title in titles if title), "")


def _what_changed(before: str, after: str) -> str:
    """`line 5 changed`: where a text differs, in a few words."""
    old, new = _lines(before), _lines(after)
    head = 0
    while head < min(len(old), len(new)) and old[head] == new[head]:
        head += 1
    tail = 0
    while tail < min(len(old), len(new)) - head and old[-1 - tail] == new[-1 - tail]:
        tail += 1
    first, last = head + 1, len(new) - tail
    if first > last:
        return "lines taken out" if len(old) - len(new) > 1 else f"line {first} taken out"
    added = "written" if len(old) - tail == head else "changed"
    return f"line {first} {added}" if first == last else f"lines {first} to {last} {added}"


def _lines(text: str) -> list[str]:
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
