"""Changing, undoing, redoing, going to any state: compared with a simple model of a tree."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ChangedMeanwhile, Form, Kind, NotOnShelf, Role, ShelfError
from reedwright.shelf.safety.checking import check

WORDS = st.text("abc é\n", max_size=6)


@dataclass
class Node:
    """A state in the model: what it says, and what was made from it last."""

    before: Node | None
    name: str
    text: str
    links: list[int]


@dataclass
class Model:
    now: Node
    nodes: list[Node] = field(default_factory=list)  # by number, from 1
    ahead: list[Node] = field(default_factory=list)  # what redoing leads to, the nearest last
    removed: bool = False


class Histories(RuleBasedStateMachine):
    """One item beside two others that it may belong to, in the file and in the model."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.shelf = open_shelf(Path(self.folder.name))
        # The machine asks what SQLite keeps, not whether the disk does.
        self.shelf.db.execute("PRAGMA synchronous = OFF")
        self.others = [self.shelf.add(Kind.TUNE, name, Form.ABC, name).id for name in "xy"]
        self.item = self.shelf.add(Kind.LIST, "first", Form.TOML, "1").id
        first = Node(None, "first", "1", [])
        self.model = Model(first, [first])

    def teardown(self) -> None:
        assert check(self.shelf).problems == ()
        self.shelf.close()
        self.folder.cleanup()

    @rule(text=WORDS, name=st.none() | WORDS)
    def revise(self, text: str, name: str | None) -> None:
        now = self.model.now
        self.shelf.revise(self.item, text, name=name)
        new = Node(now, now.name if name is None else name, text, list(now.links))
        self.model.nodes.append(new)
        self.model.now, self.model.ahead = new, []

    @rule(to=st.lists(st.integers(0, 1), max_size=3))
    def link(self, to: list[int]) -> None:
        links = [self.others[each] for each in to]
        self.shelf.link(self.item, Role.ON, links)
        self.model.now.links = links

    @rule()
    def undo(self) -> None:
        if self.model.removed:
            self.shelf.undo(self.item)
            self.model.removed = False
        elif self.model.now.before is None:
            with pytest.raises(ShelfError, match="nothing to undo"):
                self.shelf.undo(self.item)
        else:
            self.shelf.undo(self.item)
            self.model.ahead.append(self.model.now)
            self.model.now = self.model.now.before

    @rule()
    def redo(self) -> None:
        if not self.model.ahead:
            with pytest.raises(ShelfError, match="nothing to redo"):
                self.shelf.redo(self.item)
        else:
            self.shelf.redo(self.item)
            self.model.now = self.model.ahead.pop()

    @rule(data=st.data())
    def go_to(self, data: st.DataObject) -> None:
        number = data.draw(st.integers(1, len(self.model.nodes)))
        goal = self.model.nodes[number - 1]
        self.shelf.go_to(self.item, number)
        # The way to where redoing led in the end, or to where the item was: is the goal on it?
        way = [self.model.ahead[0] if self.model.ahead else self.model.now]
        while way[-1].before is not None:
            way.append(way[-1].before)
        on_way = [each for each in way if each is goal]
        self.model.ahead = way[: way.index(goal)] if on_way else []
        self.model.now = goal

    @precondition(lambda self: not self.model.removed)
    @rule()
    def remove(self) -> None:
        self.shelf.remove(self.item)
        self.model.removed = True

    @rule()
    def put_back(self) -> None:
        self.shelf.put_back(self.item)
        self.model.removed = False

    @rule(text=WORDS)
    def fail_half_way(self, text: str) -> None:
        with pytest.raises(ZeroDivisionError), self.shelf.change():
            self.shelf.revise(self.item, text)
            self.shelf.link(self.item, Role.ON, self.others)
            self.shelf.remove(self.item)
            raise ZeroDivisionError

    @rule(text=WORDS)
    def fail_in_one_of_two_steps(self, text: str) -> None:
        """A step whose error is dealt with is undone alone."""
        with self.shelf.change():
            with pytest.raises(ZeroDivisionError), self.shelf.change():
                self.shelf.revise(self.item, text)
                raise ZeroDivisionError
            self.put_back()

    @invariant()
    def is_as_in_the_model(self) -> None:
        item = self.shelf.item(self.item)
        now = self.model.now
        assert (item.name, item.state.text, item.removed) == (
            now.name,
            now.text,
            self.model.removed,
        )
        assert [link.to for link in self.shelf.links(self.item)] == now.links
        numbers = {id(node): number for number, node in enumerate(self.model.nodes, start=1)}
        assert [
            (state.number, state.parent, state.text) for state in self.shelf.states(item.id)
        ] == [
            (number, numbers.get(id(node.before), 0), node.text)
            for number, node in enumerate(self.model.nodes, start=1)
        ]


TestHistories = Histories.TestCase
TestHistories.settings = settings(max_examples=25, stateful_step_count=25, deadline=None)


@pytest.fixture
def shelf(tmp_path: Path):  # type: ignore[no-untyped-def]
    with open_shelf(tmp_path) as opened:
        yield opened


def test_every_branch_can_be_reached_after_undoing_and_changing_anew(shelf: Shelf) -> None:
    item = shelf.add(Kind.TUNE, "Latch", Form.ABC, "one").id
    shelf.revise(item, "two")
    shelf.undo(item)
    shelf.revise(item, "three")
    assert shelf.go_to(item, 2).state.text == "two"
    assert shelf.undo(item).state.text == "one"
    assert shelf.redo(item).state.text == "two"
    assert shelf.go_to(item, 3).state.text == "three"
    with pytest.raises(NotOnShelf, match="no state 4; its states are 1 to 3"):
        shelf.go_to(item, 4)


def test_undoing_the_order_of_a_list_undoes_its_links(shelf: Shelf) -> None:
    tunes = [shelf.add(Kind.TUNE, name, Form.ABC, name).id for name in "abc"]
    evening = shelf.add(Kind.LIST, "evening", Form.TOML, "a b c").id
    shelf.link(evening, Role.ON, tunes)
    with shelf.change():
        shelf.revise(evening, "c a")
        shelf.link(evening, Role.ON, [tunes[2], tunes[0]])
    shelf.undo(evening)
    assert [link.to for link in shelf.links(evening, Role.ON)] == tunes
    shelf.redo(evening)
    assert [link.to for link in shelf.links(evening, Role.ON)] == [tunes[2], tunes[0]]


def test_a_change_made_from_a_state_that_is_no_longer_there_is_refused(shelf: Shelf) -> None:
    item = shelf.add(Kind.TUNE, "Latch", Form.ABC, "one").id
    shelf.revise(item, "two", said="by Mira", made_from=1)
    with pytest.raises(ChangedMeanwhile, match="by Mira"):
        shelf.revise(item, "three", made_from=1)
    assert len(shelf.states(item)) == 2


def test_an_item_is_asked_for_by_its_number_and_its_kind(shelf: Shelf) -> None:
    item = shelf.add(Kind.TUNE, "Latch", Form.ABC, "one").id
    shelf.remove(item)
    assert shelf.item(item, Kind.TUNE).removed
    with pytest.raises(NotOnShelf, match="There is no player with the number 1"):
        shelf.item(item, Kind.PROFILE)
    for number in (0, -1, 2**63, 10**30):
        with pytest.raises(NotOnShelf, match="There is nothing with the number"):
            shelf.item(number)
    assert shelf.names(Kind.TUNE) == {} and shelf.names(Kind.TUNE, removed=True) == {1: "Latch"}


def test_a_file_stays_with_an_item_that_is_called_otherwise(shelf: Shelf) -> None:
    take = shelf.add(Kind.TAKE, "take 1", Form.FILE, attachment=b"sound").id
    renamed = shelf.revise(take, name="the good one")
    assert shelf.attachments.read(renamed.state.attachment) == b"sound"
    assert shelf.undo(take).name == "take 1"


def test_links_to_nowhere_are_refused(shelf: Shelf) -> None:
    item = shelf.add(Kind.LIST, "evening", Form.TOML, "").id
    with pytest.raises(NotOnShelf, match="number 99"):
        shelf.link(item, Role.ON, [item, 99])
    with pytest.raises(NotOnShelf, match="number 98"):
        shelf.link(98, Role.ON, [item])
    assert shelf.links(item) == ()


def test_half_a_letter_is_refused_in_words(shelf: Shelf) -> None:
    with pytest.raises(ShelfError, match="half a letter"):
        shelf.add(Kind.TUNE, "Latch \ud800", Form.ABC, "text")
    assert shelf.counts() == {}
