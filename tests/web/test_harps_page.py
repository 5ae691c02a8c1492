"""Which harp: the table has what `rank_harps` gives, its filters stand in the address, one is used
as a step that can be undone."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from webhouse import KETTLE, House

from reedwright.harp.position import ORDINALS
from reedwright.player.loading import load_profile
from reedwright.shelf.belongings.arrangements import choices_on, keep_choices
from reedwright.shelf.belongings.harps import keep_harp
from reedwright.shelf.belongings.profiles import keep_profile
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.model import ChangedMeanwhile
from reedwright.tab.choices.model import TuneChoices
from reedwright.tab.choices.session import Session
from reedwright.tab.ranking import RankedHarp, rank_harps
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.web.harps.asked import COLUMNS, pick_of
from reedwright.web.harps.seeing import ground, use

Client = tuple[TestClient, House]
# Holes by the layout of the standard tuning, on a G harp with 4 blow G4 (docs/design.md).
KETTLE_ON_G = "4↑ 5↑ 4↑ 6↑ 4↑ 5↑ 4↑"


class _Table(HTMLParser):
    """The cells of the table of harps, row by row, and the picks."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.picks: list[str] = []
        self._in = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self._in = True
            self.rows[-1].append("")
        if said.get("name") == "pick":
            self.picks.append(said["value"] or "")

    def handle_endtag(self, tag: str) -> None:
        self._in = self._in and tag not in ("td", "th")

    def handle_data(self, data: str) -> None:
        if self._in:
            self.rows[-1][-1] += data


def shown(browser: TestClient, query: str = "", tune: int = 1) -> _Table:
    answer = browser.get(f"/tunes/{tune}/harps{query}")
    assert answer.status_code == 200, answer.text
    found = _Table()
    found.feed(answer.text)
    return found


def kettle() -> Tune:
    (tune,) = read_abc(KETTLE)
    assert isinstance(tune, Tune)
    return tune


def ranked(**asked: Any) -> tuple[RankedHarp, ...]:
    return rank_harps(kettle(), load_profile("player"), **asked)


def picks(found: tuple[RankedHarp, ...]) -> list[str]:
    return [pick_of(each.harp, each.octaves) for each in found]


def test_the_table_is_the_ranking_and_the_parts_add_up_to_the_effort(client: Client) -> None:
    browser, house = client
    house.shelve()
    found = shown(browser)
    expected = ranked()
    assert found.picks == picks(expected)[:30]
    for cells, each in zip(found.rows[1:], expected, strict=False):
        row = dict(zip(COLUMNS, cells[1:], strict=True))
        assert float(row["effort"]) == pytest.approx(each.effort_per_note, abs=0.005)
        parts = sum(float(row[name]) for name in ("turning", "moving", "bending", "other"))
        assert parts == pytest.approx(each.effort_per_note, abs=0.025)  # five figures rounded
        assert [int(row[name]) for name in ("bends", "overs", "missing")] == [
            each.bends,
            each.overblows,
            each.missing,
        ]


def test_positions_are_those_of_the_circle_of_fifths(client: Client) -> None:
    browser, house = client
    house.shelve()
    # G is first on a G harp, second on C, third on F, twelfth on D (common practice).
    for position, word, key in ((1, "first", "G"), (2, "second", "C"), (12, "twelfth", "D")):
        found = shown(browser, f"?position={position}&tuning=richter")
        assert {row[3] for row in found.rows[1:]} == {word}
        assert {re.sub("low |high ", "", pick.split("@")[0]) for pick in found.picks} == {key}


def test_filters_keep_to_what_they_say_and_stand_in_the_address(client: Client) -> None:
    browser, house = client
    house.shelve()
    with open_shelf(house.settings.shelf) as shelf:
        keep_harp(shelf, "the red one", "C")
    everything = ranked()
    for query, fits in (
        ("plain=1", lambda each: not each.bends),
        ("whole=1", lambda each: not each.missing),
        ("octave=-1", lambda each: each.octaves == -1),
        ("tuning=solo&tuning=natural-minor", lambda e: e.harp.tuning.name in SOLO_OR_MINOR),
        ("plain=1&position=1&position=12", lambda e: not e.bends and e.position in (1, 12)),
    ):
        expected = [each for each in everything if fits(each)]
        assert 0 < len(expected) < len(everything)
        assert shown(browser, f"?{query}&most=40").picks == picks(tuple(expected))[:40]
        said = browser.get(f"/tunes/1/harps?order=rank&player=&{query}").headers["hx-push-url"]
        assert said == f"/tunes/1/harps?{query}"
    over = rank_harps(kettle(), load_profile("all-techniques"))
    expected = [each for each in over if not each.overblows]
    assert 40 < len(expected) < len(over)
    query = "?player=all-techniques&no_over=1&most=40"
    assert shown(browser, query).picks == picks(tuple(expected))[:40]
    owned = shown(browser, "?mine=1")
    assert {pick.split("@")[0] for pick in owned.picks} == {"C"}
    assert "the red one" in owned.rows[1][2]


SOLO_OR_MINOR = ("solo", "natural-minor")


def test_each_column_sorts_by_number_and_leaves_equal_rows_as_ranked(client: Client) -> None:
    browser, house = client
    house.shelve()
    query = "?tuning=richter&octave=0"
    ranks = sorted(row[1] for row in shown(browser, query).rows[1:])
    for place, column in enumerate(COLUMNS, 1):
        for sort in (column, f"-{column}"):
            rows = shown(browser, f"{query}&sort={sort}").rows[1:]
            assert sorted(row[1] for row in rows) == ranks
            if column in ("harp", "position", "octave", "holes"):
                continue
            values = [float(row[place].removesuffix(" %")) for row in rows]
            assert values == sorted(values, reverse=sort.startswith("-"))
            if column not in ("bends", "overs", "missing", "ornaments"):  # shown rounded
                continue
            for one, two in pairwise(zip(values, rows, strict=True)):
                assert one[0] != two[0] or int(one[1][1]) < int(two[1][1])


def test_positions_and_holes_sort_by_number_and_not_by_their_words(client: Client) -> None:
    browser, house = client
    house.shelve()
    rows = shown(browser, "?tuning=richter&octave=0&sort=position").rows[1:]
    places = [ORDINALS.index(row[3]) for row in rows]
    assert places == sorted(places)
    assert len(set(places)) == 12
    rows = shown(browser, "?tuning=richter&sort=-holes").rows[1:]
    lowest = [int(row[14].split(" ")[0]) for row in rows]
    assert lowest == sorted(lowest, reverse=True)


def test_a_harp_is_looked_at_with_its_tab_and_used_as_a_step_that_undo_takes_back(
    client: Client,
) -> None:
    browser, house = client
    house.shelve()
    looked = browser.get("/tunes/1/harps/look?harp=low+D@-1")
    assert "twelfth position, the tune 1 octave down" in looked.text
    assert browser.get("/tunes/1/view").json()["harp"] == ""
    form = {"harp": "low D@-1", "tune_state": "1", "choices_state": "0"}
    used = browser.post("/tunes/1/harps/use", data=form, follow_redirects=False)
    assert (used.status_code, used.headers["location"]) == (303, "/tunes/1")
    view = browser.get("/tunes/1/view").json()
    assert (view["harp"], view["octaves"]) == ("low D", -1)
    # The page that was looked at is older than the tune by now.
    again = browser.post("/tunes/1/harps/use", data={**form, "harp": "G@0"})
    assert again.status_code == 409
    assert "another window" in again.json()["message"]
    assert browser.get("/tunes/1/view").json()["harp"] == "low D"
    undone = browser.post("/tunes/1/undo", json={"made_from": view["version"]})
    assert undone.status_code == 200, undone.text
    assert undone.json()["harp"] == ""


def test_a_choice_made_elsewhere_at_that_moment_is_not_written_over(client: Client) -> None:
    _, house = client
    item = house.shelve()
    with open_shelf(house.settings.shelf) as mine, open_shelf(house.settings.shelf) as other:
        on = ground(mine, item.id)
        keep_choices(other, item.id, TuneChoices(harp="A"))
        with pytest.raises(ChangedMeanwhile):
            use(mine, on, "C@0", on.states)
        kept = choices_on(mine, item.id)
    assert kept is not None
    assert kept.harp == "A"


def test_what_was_chosen_by_hand_and_does_not_fit_is_told_before(client: Client) -> None:
    browser, house = client
    item = house.shelve()
    session = Session(kettle(), TuneChoices(harp="C")).playing("1:1", "3 blow")
    with open_shelf(house.settings.shelf) as shelf:
        keep_choices(shelf, item.id, session.choices)
    told = "Chosen by hand, and not to be had"
    assert told not in browser.get("/tunes/1/harps/look?harp=C@0").text
    other = browser.get("/tunes/1/harps/look?harp=G@0")
    assert told in other.text
    assert "3 blow" in other.text.split(told)[1]
    browser.post(
        "/tunes/1/harps/use", data={"harp": "G@0", "tune_state": "1", "choices_state": "1"}
    )
    with open_shelf(house.settings.shelf) as shelf:
        kept = choices_on(shelf, item.id)
    assert kept is not None
    assert kept.harp == "G"
    assert len(kept.choices) == 1


def test_two_harps_are_set_side_by_side_bar_by_bar(client: Client) -> None:
    browser, house = client
    house.shelve()
    found = browser.get("/tunes/1/harps/compare?pick=G@0&pick=C@0").text
    assert KETTLE_ON_G in found
    # G4 on a C harp is 3 blow (and 2 draw), B4 3 draw, D5 4 draw.
    bar = re.findall(r'<td class="tab">([^<]*)</td>', found)[1].split()
    assert [sign if sign not in ("2↓", "3↑") else "G" for sign in bar] == [
        "G", "3↓", "G", "4↓", "G", "3↓", "G",
    ]  # fmt: skip
    assert found.count("data-note=") == 2 * 58  # as counted in the text by hand
    one = browser.get("/tunes/1/harps/compare?pick=C@0")
    assert one.status_code == 200
    assert "Tick two harps" in one.text


def test_valves_bring_and_cost_what_the_rules_of_reeds_say(client: Client) -> None:
    browser, house = client
    house.shelve()
    found = browser.get("/tunes/1/harps/valves?harp=C@0").text
    # Half-valved: blow reeds of holes 1 to 6, draw reeds of 7 to 10 (docs/design.md).
    assert "blow 1, 2, 3, 4, 5 and 6; draw 7, 8, 9 and 10" in found
    # C4 alone bends to B3; the overdraw of hole 10, a semitone above C7, is lost.
    assert "B3, 1 blow" in found
    assert "10 overdraw" in found.split("Notes of the harp lost")[1].split("</dd>")[0]
    # No plain reed of a C harp is F sharp 5: 5 draw is F5; 6 blow, G5, bends where it is valved.
    assert re.search(r'F♯5: <span class="tab">[^<]*</span> without, <span class="tab">6↑', found)
    assert re.search(r'data-marked="\S+"', found)


def test_a_profile_on_the_shelf_ranks_and_the_tunes_own_player_stays(
    client: Client, tmp_path: Path
) -> None:
    browser, house = client
    house.shelve()
    path = tmp_path / "aunt.toml"
    path.write_text('title = "Aunt <b>"\nbase = "player"\n[weights]\nbreath_change = 9.0\n')
    with open_shelf(house.settings.shelf) as shelf:
        item = keep_profile(shelf, path)
    key = f"shelf-{item.id}"
    assert "Aunt &lt;b&gt;" in browser.get("/tunes/1/harps").text
    usual = float(shown(browser).rows[1][6])
    assert float(shown(browser, f"?player={key}").rows[1][6]) > usual
    form = {"harp": "C@0", "tune_state": "1", "choices_state": "0", "player": key}
    assert browser.post("/tunes/1/harps/use", data=form).status_code == 200
    view = browser.get("/tunes/1/view").json()
    assert (view["harp"], view["player"]) == ("C", "player")
    form = {"harp": "C@0", "tune_state": "1", "player": "first-year"}
    form["choices_state"] = str(view["version"]["choices"])
    assert browser.post("/tunes/1/harps/use", data=form).status_code == 200
    assert browser.get("/tunes/1/view").json()["player"] == "first-year"


def test_each_harp_can_be_heard_and_its_times_tell_its_holes(client: Client) -> None:
    browser, house = client
    house.shelve()
    heard = browser.get("/tunes/1/harps/sound?harp=C@0&speed=1.5")
    assert heard.content[:4] == b"RIFF"
    holes = [note[3:] for note in browser.get("/tunes/1/harps/times?harp=G@0").json()["notes"][:3]]
    assert holes == [[4, "blow"], [5, "blow"], [4, "blow"]]


def test_harps_are_added_taken_off_and_put_back(client: Client) -> None:
    browser, house = client
    tune = house.shelve()
    new = {"name": "red", "key": "A", "tuning": "richter", "valves": "half", "tune": str(tune.id)}
    added = browser.post("/harps", data=new)
    assert added.status_code == 200
    assert "A harp, half-valved" in added.text
    assert f"/tunes/{tune.id}/harps?mine=1" in added.text
    twice = browser.post("/harps", data=new)
    assert twice.status_code == 422
    assert "on the shelf already" in twice.text
    wrong = browser.post("/harps", data={**new, "name": "blue", "valves": "blow 99"})
    assert wrong.status_code == 422
    assert 'aria-invalid="true"' in wrong.text
    off = browser.post("/harps/2/off", data={"tune": "1"})
    assert "red is off the shelf" in off.text
    assert browser.get("/tunes/1/harps?mine=1").text.count('name="pick"') == 0
    browser.post("/harps/2/back", data={})
    assert browser.get("/tunes/1/harps?mine=1").text.count('name="pick"') == 3
    assert browser.post("/harps/1/off", data={}).status_code == 404  # a tune is no harp


def test_a_tuning_is_never_read_from_a_path(client: Client, tmp_path: Path) -> None:
    browser, house = client
    house.shelve()
    path = tmp_path / "mine.toml"
    path.write_text(Path("src/reedwright/harp/data/richter.toml").read_text())
    for harp in (f"C:{path}@0", "C:../../x.toml@0", "C:nothing@0"):
        for page in ("look", "valves", "sound", "times"):
            answer = browser.get(f"/tunes/1/harps/{page}?harp={quote(harp)}")
            assert answer.status_code == 422
            assert "no tuning called" in answer.json()["message"]


def test_a_tune_without_notes_or_without_a_reading_says_so_with_the_way_back(
    client: Client,
) -> None:
    browser, house = client
    items = [house.shelve(), house.shelve()]
    texts = ["X:1\nT:Rests\nM:4/4\nL:1/4\nK:G\nz4|z4|\n", "X:1\nT:Odd\nK:of no kind\nabc|\n"]
    for item, text in zip(items, texts, strict=True):
        with open_shelf(house.settings.shelf) as shelf:
            shelf.revise(item.id, text)
        answer = browser.get(f"/tunes/{item.id}/harps", headers={"accept": "text/html"})
        assert answer.status_code == 422
        assert f'href="/tunes/{item.id}"' in answer.text
        assert "Traceback" not in answer.text
        for page in ("look", "compare", "valves", "times"):
            assert browser.get(f"/tunes/{item.id}/harps/{page}").status_code == 422
    whole = f"/tunes/{house.shelve().id}/harps"
    assert browser.get(f"{whole}?player=nobody").status_code == 422
    assert browser.get(f"{whole}?player=shelf-999").status_code == 404
    assert browser.get("/tunes/999/harps").status_code == 404


@settings(
    max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(harp=st.text(max_size=20), player=st.text(max_size=8), sort=st.text(max_size=8))
def test_no_text_in_the_address_breaks_a_page(
    client: Client, harp: str, player: str, sort: str
) -> None:
    browser, house = client
    if browser.get("/tunes/1/version").status_code == 404:
        house.shelve()
    for page in ("", "/look", "/compare", "/times"):
        asked = {"harp": harp, "pick": harp, "player": player, "sort": sort}
        assert browser.get(f"/tunes/1/harps{page}", params=asked).status_code < 500
