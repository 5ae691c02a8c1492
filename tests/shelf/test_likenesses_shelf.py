"""Settings of one tune on the shelf: offered, accepted, refused, taken back, kept up to date."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from reedwright.shelf.facts.keeping import refresh
from reedwright.shelf.facts.tunes import add_tune, revise_tune
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.likenesses import finding_out
from reedwright.shelf.likenesses.deciding import (
    accept,
    count_offers,
    decisions,
    groups,
    offer_again,
    offers,
    refuse,
    settings_of,
    take_back,
)
from reedwright.shelf.likenesses.finding_out import find_likenesses, not_compared
from reedwright.shelf.likenesses.model import NotAPair, Verdict
from reedwright.shelf.likenesses.namesakes import folded, namesakes
from reedwright.shelf.likenesses.text import offers_report, offers_text
from reedwright.shelf.model import Form, Kind, NotOnShelf, ShelfError
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.transpose import transposed

REEL = "|:gedB GABd|gedB ABAG|EGDG EGDG|EGAB A2 GE:|\n|:c2ec B2dB|ABAG EFGA|c2ec B2dB|ABAG E2 D2:|"
OTHER = "|:DFA AFA|dAF AFD|EGB BGB|edB AFD:|\n|:dfd cec|BdB AFA|GBG FAF|EGE D3:|"
HALVED = "L:1/16\nM:2/4"


def tune(title: str, body: str = REEL, head: str = "L:1/8\nM:4/4", key: str = "G") -> Tune:
    (found,) = read_abc(f"X:1\nT:{title}\n{head}\nK:{key}\n{body}\n")
    assert isinstance(found, Tune)
    return found


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Shelf]:
    with open_shelf(tmp_path / "shelf") as opened:
        yield opened


@pytest.fixture
def three(shelf: Shelf) -> tuple[int, int, int]:
    """A reel, the same halved, and a jig that has nothing to do with them."""
    reel = add_tune(shelf, tune("The Salt Quay")).id
    half = add_tune(shelf, tune("Kay of Salt", head=HALVED)).id
    jig = add_tune(shelf, tune("The Tarrow", OTHER, "L:1/8\nM:6/8", "D")).id
    return reel, half, jig


def pairs(shelf: Shelf, item: int | None = None) -> list[tuple[int, int]]:
    return [(each.one, each.other) for each in offers(shelf, item)]


def test_a_setting_is_offered_with_what_differs_and_nothing_is_merged(
    shelf: Shelf, three: tuple[int, int, int]
) -> None:
    reel, half, jig = three
    before = [(item.id, item.state.text) for item in shelf.items()]
    assert find_likenesses(shelf) == 1
    (offer,) = offers(shelf)
    assert (offer.one, offer.other) == (reel, half)
    assert (offer.title, offer.other_title) == ("The Salt Quay", "Kay of Salt")
    assert (offer.differing.semitones, offer.differing.doublings) == (0, -1)
    assert offer.score > 0.9
    assert pairs(shelf, half) == [(reel, half)]
    assert pairs(shelf, jig) == []
    assert settings_of(shelf, reel) == ()
    assert [(item.id, item.state.text) for item in shelf.items()] == before


def test_what_was_compared_is_not_compared_again(shelf: Shelf, three: tuple[int, int, int]) -> None:
    assert not_compared(shelf) == list(three)
    assert find_likenesses(shelf) == 1
    assert not_compared(shelf) == []
    assert find_likenesses(shelf) == 0
    assert find_likenesses(shelf, three) == 0
    more = add_tune(shelf, tune("Salt", REEL.split("\n", maxsplit=1)[0])).id
    assert not_compared(shelf) == [more]
    assert find_likenesses(shelf, [more]) == 2
    assert pairs(shelf, more) == [(three[0], more), (three[1], more)]


def test_offers_follow_a_tune_that_is_changed_and_undone(
    shelf: Shelf, three: tuple[int, int, int]
) -> None:
    reel, half, jig = three
    find_likenesses(shelf)
    revise_tune(shelf, half, tune("Kay of Salt", OTHER, "L:1/8\nM:6/8", "D"))
    assert not_compared(shelf) == [half]
    assert find_likenesses(shelf) == 1
    assert pairs(shelf) == [(half, jig)]
    shelf.undo(half)
    refresh(shelf)
    assert find_likenesses(shelf) == 1
    assert pairs(shelf) == [(reel, half)]


def test_accepted_ones_form_a_group_and_are_not_offered_within_it(
    shelf: Shelf, three: tuple[int, int, int]
) -> None:
    reel, half, jig = three
    part = add_tune(shelf, tune("Salt", REEL.split("\n", maxsplit=1)[0])).id
    assert find_likenesses(shelf) == 3
    accept(shelf, reel, half)
    accept(shelf, half, part)
    assert settings_of(shelf, reel) == (half, part)
    assert settings_of(shelf, part) == (reel, half)
    assert groups(shelf) == ((reel, half, part),)
    assert pairs(shelf) == []  # reel and part need not be asked about any more
    assert count_offers(shelf) == 0
    assert settings_of(shelf, jig) == ()
    shelf.remove(half)
    assert settings_of(shelf, reel) == (part,)


def test_refused_ones_are_never_offered_again(shelf: Shelf, three: tuple[int, int, int]) -> None:
    reel, half, _ = three
    find_likenesses(shelf)
    refuse(shelf, half, reel)  # whichever is named first
    assert pairs(shelf) == []
    revise_tune(shelf, half, tune("Kay of Salt", REEL.replace("E2 D2", "E2 G2"), HALVED))
    assert find_likenesses(shelf) == 0
    assert pairs(shelf) == []
    assert decisions(shelf) == ((reel, half, Verdict.OTHER_TUNES),)
    offer_again(shelf, reel, half)
    assert pairs(shelf) == [(reel, half)]


def test_what_was_said_is_taken_back_the_last_first(
    shelf: Shelf, three: tuple[int, int, int]
) -> None:
    reel, half, jig = three
    find_likenesses(shelf)
    refuse(shelf, reel, half)
    accept(shelf, reel, half, jig)
    assert settings_of(shelf, reel) == (half, jig)
    assert set(take_back(shelf)) == {(reel, half), (reel, jig)}
    assert decisions(shelf) == ((reel, half, Verdict.OTHER_TUNES),)
    take_back(shelf)
    assert (reel, half) in pairs(shelf)
    with pytest.raises(ShelfError, match="nothing to take back"):
        take_back(shelf)


def test_two_tunes_may_be_accepted_that_were_never_offered(
    shelf: Shelf, three: tuple[int, int, int]
) -> None:
    reel, half, jig = three
    accept(shelf, reel, jig)
    assert settings_of(shelf, jig) == (reel,)
    assert find_likenesses(shelf) == 1
    assert settings_of(shelf, jig) == (reel,)
    take_back(shelf)
    assert pairs(shelf) == [(reel, half)]  # nobody found reel and jig alike: they are no offer


def test_only_tunes_of_the_shelf_are_judged(shelf: Shelf, three: tuple[int, int, int]) -> None:
    lesson = shelf.add(Kind.LESSON, "Tuesday", Form.TEXT, "two reels").id
    with pytest.raises(NotAPair):
        accept(shelf, three[0], lesson)
    with pytest.raises(NotAPair):
        refuse(shelf, three[0], three[0])
    with pytest.raises(NotOnShelf):
        accept(shelf, three[0], 999)
    assert decisions(shelf) == ()


def test_removed_tunes_are_neither_compared_nor_offered(
    shelf: Shelf, three: tuple[int, int, int]
) -> None:
    reel, half, _ = three
    find_likenesses(shelf)
    shelf.remove(half)
    assert pairs(shelf) == []
    third = add_tune(shelf, transposed(tune("Salt again"), 2)).id
    find_likenesses(shelf)
    assert pairs(shelf) == [(reel, third)]
    shelf.put_back(half)
    assert pairs(shelf, half) == [(reel, half)]


def test_many_at_once_give_the_same_offers_as_one_after_the_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(finding_out, "cores", lambda: 1)
    found = []
    for folder, many in (("one", 1_000), ("many", 2)):
        monkeypatch.setattr(finding_out, "MANY", many)
        monkeypatch.setattr(finding_out, "CHUNK", 3)
        with open_shelf(tmp_path / folder) as shelf:
            for up in range(5):
                add_tune(shelf, transposed(tune(f"Reel {up}"), up))
                add_tune(shelf, transposed(tune(f"Jig {up}", OTHER, "L:1/8\nM:6/8", "D"), up))
            assert find_likenesses(shelf) == 20
            revise_tune(shelf, 1, tune("Reel 0", OTHER, "L:1/8\nM:6/8", "D"))
            revise_tune(shelf, 3, tune("Reel 1", OTHER, "L:1/8\nM:6/8", "D"))
            assert find_likenesses(shelf) == 10  # each with five jigs; they were a pair before
            found.append(
                {(each.one, each.other): (each.score, each.differing) for each in offers(shelf)}
            )
    assert found[0] == found[1]
    assert len(found[0]) == 3 + 21  # among three reels, among seven jigs


def test_other_processes_find_what_this_one_finds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(finding_out, "cores", lambda: 2)
    monkeypatch.setattr(finding_out, "MANY", 2)
    with open_shelf(tmp_path / "shelf") as shelf:
        for up in range(3):
            add_tune(shelf, transposed(tune(f"Reel {up}"), up))
        told: list[float] = []
        assert find_likenesses(shelf, None, lambda share, _: told.append(share)) == 3
        assert told == sorted(told)
        assert told[-1] == pytest.approx(1.0)


def test_what_is_done_stays_done_where_it_is_stopped(
    shelf: Shelf, three: tuple[int, int, int]
) -> None:
    class Stopped(Exception):
        pass

    def stop(share: float, doing: str) -> None:
        raise Stopped

    with pytest.raises(Stopped):
        find_likenesses(shelf, None, stop)
    assert not_compared(shelf) == list(three[1:])
    find_likenesses(shelf)
    assert pairs(shelf) == [three[:2]]


def test_offers_are_told_in_words_and_values(shelf: Shelf, three: tuple[int, int, int]) -> None:
    reel, half, _ = three
    assert "No tunes" in offers_text(shelf, offers(shelf), 20)
    find_likenesses(shelf)
    text = offers_text(shelf, offers(shelf), 20)
    assert f"{reel} The Salt Quay  and  {half} Kay of Salt" in text
    assert "the same notes, notes half as long" in text
    assert f"{reel} --yes {half}" in text
    report = json.loads(json.dumps(offers_report(shelf, offers(shelf))))
    (told,) = report["offers"]
    assert (told["one"], told["other"], told["length_factor"]) == (reel, half, 0.5)
    assert told["bars"] == [{"one": [1, 8], "other": [1, 8]}]
    assert report["on_the_shelf"] == 1
    add_tune(shelf, transposed(tune("Third"), 2))
    find_likenesses(shelf)
    assert "2 more" in offers_text(shelf, offers(shelf), 1)


VARIED = (
    "|:gedB G2Bd|gedB ABAG|EGDE GEDG|EDEA G2 GE:|\n|:cBce BABd|ABAG E2GA|c2ec B2dB|AGEG D2 D2:|"
)


def test_namesakes_are_offered_for_less_likeness_but_not_for_none(shelf: Shelf) -> None:
    add_tune(shelf, tune("The Salt Quay"))
    varied = add_tune(shelf, tune("Salt Quay, The", VARIED)).id
    add_tune(shelf, tune("Salt Quays Reel", OTHER, "L:1/8\nM:6/8", "D"))
    stranger = add_tune(shelf, tune("Fossick's Pell", VARIED)).id
    find_likenesses(shelf)
    scores = {(each.one, each.other): each.score for each in offers(shelf)}
    assert set(scores) == {(1, varied), (varied, stranger)}
    assert 0.1 <= scores[1, varied] < 0.4 <= scores[varied, stranger]


def test_titles_are_folded_to_their_words() -> None:
    assert folded("Reedmaker, The") == folded("The Reedmaker\N{RIGHT SINGLE QUOTATION MARK}s Reel")
    assert folded("An Spéiléir") != folded("Spealadóir")
    assert folded("The Reel") == ""
    assert namesakes(["quay", "quay", "key", ""]) == [(1,), (0,), (), ()]
    assert namesakes([""] * 3) == [()] * 3
    assert namesakes(["graf nonne und"] * 40) == [()] * 40


def test_each_pair_is_compared_once_from_whichever_side_it_was_named() -> None:
    near = {3: [3, 4, 9], 4: [3], 5: [4, 1]}  # 1 and 9 are not asked for themselves
    assert finding_out.each_pair_once(near) == {3: (4, 9), 4: (5,), 5: (1,)}


def test_what_was_accepted_before_anybody_looked_is_offered_when_that_is_taken_back(
    shelf: Shelf,
) -> None:
    """Both were compared meanwhile, and would not be compared again."""
    one, other = add_tune(shelf, tune("One")).id, add_tune(shelf, tune("Other")).id
    accept(shelf, one, other)
    find_likenesses(shelf)
    take_back(shelf)
    assert [(offer.one, offer.other) for offer in offers(shelf)] == [(one, other)]
