"""The bench's pages: harps and their histories, plans, targets, valves, paper.

What a plan says is the room's own (tests/workshop); here it is held that nothing of it is lost on
its way to the page, and that nothing which a browser sends reaches a file.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from urllib.parse import urlencode

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from webhouse import House, asked

from reedwright.cli.main import main
from reedwright.errors import ReedwrightError
from reedwright.harp.making import make_harp, parse_harp
from reedwright.harp.model import Breath, Reed
from reedwright.harp.tunings import all_tunings
from reedwright.harp.written import harp_text
from reedwright.shelf.belongings.from_bench import take_in_bench
from reedwright.shelf.belongings.harps import history_on, keep_harp
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.web.bench.asking import Wrong, harps_asked, number
from reedwright.web.bench.course import courses, drift_words
from reedwright.web.bench.kept import with_entry
from reedwright.workshop.history.keeping import add_measurement, add_note, start_history
from reedwright.workshop.history.model import Converted, HeardReed, History, Measured
from reedwright.workshop.measuring.model import Measurement, ReedMeasure
from reedwright.workshop.targets.making import reed_targets


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[TestClient, House]]:
    monkeypatch.setenv("REEDWRIGHT_BENCH", str(tmp_path / "bench"))
    monkeypatch.setenv("REEDWRIGHT_TUNINGS", str(tmp_path / "tunings"))
    with asked(tmp_path) as found:
        yield found


def words(html: str) -> str:
    """What a page says, without its marks."""
    text = re.sub(r"<(?:script|style|svg)\b.*?</(?:script|style|svg)>", " ", html, flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())


def new_harp(client: TestClient, name: str = "the red one", **fields: str) -> int:
    answer = client.post("/bench/harps", data={"name": name, **fields}, follow_redirects=False)
    assert answer.status_code == 303, words(answer.text)
    return int(answer.headers["location"].rsplit("/", 1)[1])


def test_a_harp_is_kept_noted_on_converted_and_each_step_is_taken_back(
    bench: tuple[TestClient, House],
) -> None:
    client, house = bench
    item = new_harp(client, key="G", valves="half")
    page = f"/bench/harps/{item}"
    assert "G harp, half-valved" in words(client.get("/bench").text)

    def post(what: str, **fields: object) -> int:
        with open_shelf(house.settings.shelf) as shelf:
            state = shelf.item(item).state.number
        return client.post(f"{page}/{what}", data={"state": state, **fields}).status_code

    assert post("notes", note="Lent to the <b>Tuesday</b> class") == 200
    html = client.get(page).text
    assert "Lent to the <b>Tuesday</b> class" in words(html)
    assert "<b>Tuesday" not in html
    assert post("conversions", key="G", tuning="richter-raised-3-blow") == 200
    assert "G harp, raised 3 blow" in words(client.get(page).text)
    with open_shelf(house.settings.shelf) as shelf:
        history = history_on(shelf, item)
    assert history.harp == "G:richter:half"
    assert isinstance(history.entries[-1], Converted)
    assert history.harp_now == "G:richter-raised-3-blow"
    assert post("undo") == 200
    assert post("undo") == 200
    with open_shelf(house.settings.shelf) as shelf:
        assert history_on(shelf, item).entries == ()
    assert post("redo") == 200
    assert "Tuesday" in words(client.get(page).text)


def test_a_harp_that_is_taken_off_the_shelf_is_put_back_with_its_history(
    bench: tuple[TestClient, House],
) -> None:
    client, house = bench
    item = new_harp(client)
    keep_measured(house, item, "G", {})
    away = client.post(f"/bench/harps/{item}/shelf", data={"there": "false"})
    assert "Put the red one back" in words(away.text)
    with open_shelf(house.settings.shelf) as shelf:
        assert list(shelf.items()) == []
    back = client.post(f"/bench/harps/{item}/shelf", data={"there": "true"})
    assert "20 reeds" in words(back.text)
    assert client.post("/bench/harps/99/shelf", data={"there": "true"}).status_code == 404


def test_a_page_that_shows_an_older_state_changes_nothing(bench: tuple[TestClient, House]) -> None:
    client, house = bench
    item = new_harp(client)
    assert client.post(f"/bench/harps/{item}/notes", data={"note": "one", "state": 1}).is_success
    late = client.post(f"/bench/harps/{item}/notes", data={"note": "my own words", "state": 1})
    assert late.status_code == 422
    assert "was changed meanwhile" in words(late.text)
    assert "my own words" in late.text  # still in its field
    assert client.post(f"/bench/harps/{item}/undo", data={"state": 1}).status_code == 409
    with open_shelf(house.settings.shelf) as shelf:
        assert len(history_on(shelf, item).entries) == 1


def test_what_the_command_line_measured_is_taken_in_and_nothing_of_the_shelfs_own_is_lost(
    bench: tuple[TestClient, House],
) -> None:
    client, house = bench
    begun = start_history("the red one", "G")
    at_bench = add_note(begun, "from the terminal")
    assert "has something new of the red one" in words(client.get("/bench").text)
    assert client.post("/bench/take-in").is_success
    assert "has something new" not in words(client.get("/bench").text)
    with open_shelf(house.settings.shelf) as shelf:
        (item,) = (each.id for each in shelf.items())
        with_entry(shelf, item, lambda history: add_note(history, "from the page"), "noted")
        assert take_in_bench(shelf) == ()
        add_note(at_bench, "and again")
        take_in_bench(shelf)
        notes = [entry.note for entry in history_on(shelf, item).entries]
        assert notes == ["from the terminal", "and again", "from the page"]
        assert take_in_bench(shelf) == ()


@pytest.mark.parametrize(
    ("fields", "what"),
    [
        ({"name": "", "key": "G"}, "needs a name"),
        ({"name": "x", "key": "H"}, "is not a key"),
        ({"name": "x", "tuning": "/etc/hostname.toml"}, "no tuning of that name"),
        ({"name": "x", "tuning": "../../tunings/mine"}, "no tuning of that name"),
        ({"name": "x", "valves": "some"}, "not understood"),
        ({"name": "x", "in_register": "deep"}, "Choose one of the list"),
    ],
)
def test_what_is_wrong_with_a_new_harp_is_told_and_nothing_is_kept(
    bench: tuple[TestClient, House], fields: dict[str, str], what: str
) -> None:
    client, house = bench
    answer = client.post("/bench/harps", data=fields)
    assert answer.status_code == 422
    assert what in words(answer.text)
    with open_shelf(house.settings.shelf) as shelf:
        assert list(shelf.items()) == []


def test_no_path_is_taken_for_a_tuning_or_a_temperament(
    bench: tuple[TestClient, House], tmp_path: Path
) -> None:
    client, _ = bench
    secret = tmp_path / "secret.toml"
    secret.write_text('title = "told to nobody"\nblow = "C4"\ndraw = "D4"\n')
    for fields in (
        {"also": f"C:{secret}"},
        {"have": f"C:{secret}"},
        {"tuning": str(secret)},
        {"start": "named", "from_tuning": str(secret)},
        {"temperament": str(secret)},
    ):
        for path in ("plan", "targets", "valves", "listen"):
            answer = client.get(f"/bench/{path}?{urlencode({'ask': '1', **fields})}")
            assert answer.status_code in (200, 422)
            assert "told to nobody" not in answer.text
            # A path of more than 80 letters is refused as too long, before anything looks at it.
            if "temperament" in fields and path != "valves" and answer.status_code == 200:
                assert "no temperament of that name" in words(answer.text), path
    sheet = client.get(f"/bench/paper/sheet.pdf?{urlencode({'tuning': str(secret)})}")
    assert sheet.status_code == 422


def plan_of_command(capsys: pytest.CaptureFixture[str], *args: str) -> dict[str, object]:
    import json

    capsys.readouterr()
    assert main(["bench", "plan", *args, "--json"]) == 0
    found: dict[str, object] = json.loads(capsys.readouterr().out)
    return found


def test_a_plan_on_the_page_has_all_that_the_command_line_has(
    bench: tuple[TestClient, House], capsys: pytest.CaptureFixture[str]
) -> None:
    client, _ = bench
    told = plan_of_command(
        capsys, "G:richter-raised-3-blow:half", "--stock", "A", "--temperament", "lowered-thirds"
    )
    query = {
        "ask": 1,
        "key": "G",
        "tuning": "richter-raised-3-blow",
        "valves": "half",
        "start": "named",
        "from_key": "A",
        "temperament": "lowered-thirds",
    }
    answer = client.get(f"/bench/plan?{urlencode(query)}")
    assert answer.status_code == 200
    said = words(answer.text)
    works = told["works"]
    assert isinstance(works, list)
    assert len(works) > 10
    rows = re.findall(r"(\d+\.\d\d) (\d+\.\d\d) (\S+) (raise|lower|swap|touch up) ", said)
    assert len(rows) == len(works)
    by_reed = sorted(works, key=lambda work: (work["hole"], work["breath"]))
    for (was, now, cents, work_words), work in zip(rows, by_reed, strict=True):
        assert float(was) == pytest.approx(work["from_hz"], abs=0.006)
        assert float(now) == pytest.approx(work["to_hz"], abs=0.006)
        assert number(cents) == pytest.approx(work["cents"], abs=0.06)
        assert work_words == work["work"]
        for each in (work["check"], work["warning"], work["finish"] or work["check"]):
            assert _printed(each) in said
    for step in told["steps"]:  # type: ignore[attr-defined]
        assert _printed(step["text"]) in said
    for note in told["notes"]:  # type: ignore[attr-defined]
        assert _printed(note) in said
    assert _printed(str(told["caution"])) in said
    for each in told["shopping"]:  # type: ignore[attr-defined]
        assert f"{each['number']} × {_printed(each['harp']['name'])}" in said


def _printed(text: str) -> str:
    from reedwright.page.content import signs_in_print

    return " ".join(signs_in_print(text).split())


def test_raised_third_blow_is_one_reed_a_whole_tone_up(bench: tuple[TestClient, House]) -> None:
    """G harp: 3 blow D4 to E4, 293.66 to 329.63 Hz: equal temperament at ISO 16's 440 Hz as
    printed in textbooks. That reed alone is raised (common practice, no source)."""
    client, _ = bench
    said = words(client.get("/bench/plan?ask=1&key=G&tuning=richter-raised-3-blow").text)
    assert "1 reed changes its note" in said
    assert "D4 → E4 293.66 329.63 +200.0 raise" in said
    assert said.count(" stays") == 19


def test_several_harps_are_planned_in_one_go_with_what_to_buy(
    bench: tuple[TestClient, House],
) -> None:
    client, _ = bench
    query = urlencode(
        {"ask": 1, "tuning": "richter-raised-3-blow", "also": "A:richter-raised-3-blow; low D"}
    )
    said = words(client.get(f"/bench/plan?{query}").text)
    assert "2. A harp, raised 3 blow" in said
    assert "3. low D harp" in said
    assert "Buy: 1 × A harp, for 2" in said
    sheet = client.get(f"/bench/paper/sheet.pdf?{query}")
    assert sheet.content.startswith(b"%PDF")


def test_a_plan_from_a_harp_of_ones_own_starts_where_it_was_measured(
    bench: tuple[TestClient, House],
) -> None:
    client, house = bench
    item = new_harp(client, key="G")
    keep_measured(house, item, "G", {Reed(3, Breath.BLOW): 7.0})
    query = {"ask": 1, "tuning": "richter-raised-3-blow", "start": "mine", "mine": item}
    said = words(client.get(f"/bench/plan?{urlencode(query)}").text)
    assert "+193.0 raise" in said  # 200 cents less the 7 that it is sharp
    assert "All reeds are planned from where they were last measured" in said
    without = client.get(f"/bench/plan?{urlencode(query | {'mine': 0})}")
    assert without.status_code == 422
    assert "Say which of your harps" in words(without.text)


def test_what_is_wrong_is_told_beside_its_field(bench: tuple[TestClient, House]) -> None:
    client, _ = bench
    wrong = {"a4": "300", "pressure": "a lot", "beats": "blow 1 4", "valves": "x", "also": "Q"}
    html = client.get(f"/bench/plan?{urlencode({'ask': 1, **wrong})}").text
    for field in ("a4", "pressure", "valves", "also"):
        assert f'id="wrong-{field}"' in html
        assert re.search(rf'name="{field}"[^>]*aria-invalid="true"', html), field
    beats = client.get("/bench/targets?ask=1&beats=blow+1+11%3D0.5")
    assert 'id="wrong-beats"' in beats.text
    assert beats.status_code == 422


def test_targets_are_those_of_the_room_with_their_beats(bench: tuple[TestClient, House]) -> None:
    client, _ = bench
    said = words(client.get("/bench/targets?ask=1&key=C&beats=blow+1+4%3D0.5&pressure=4").text)
    assert "draw A5 +4.0 882.04 0.0 880.00" in said  # ISO 16's A, and 4 cents above it
    assert "blow 1 and 4 C4 C5 octave 1201." in said or "blow 1 and 4 C4 C5 octave 1198." in said
    assert "0.50" in said
    assert "blow 1, 2, 3 C major" in said  # C E G, the blow chord of a C harp


def test_valves_are_planned_and_what_they_bring_to_a_tune_is_told(
    bench: tuple[TestClient, House],
) -> None:
    client, house = bench
    tune = house.shelve()
    said = words(client.get("/bench/valves?key=G").text)
    assert "10 valves" in said
    assert "bends alone" in said
    found = client.get("/bench/valves?key=G&find=kettle").text
    assert f"tune={tune.id}" in found
    compared = words(client.get(f"/bench/valves?key=G&tune={tune.id}").text)
    assert "The Kettle on the Landing: without valves and with them" in compared
    slide = client.get("/bench/valves?tuning=chromatic-12")
    assert slide.status_code in (200, 422)


@pytest.mark.parametrize("what", ["sheet", "cutting", "label", "card"])
def test_every_paper_is_a_pdf_with_the_harps_name(
    bench: tuple[TestClient, House], what: str
) -> None:
    import io

    from pypdf import PdfReader

    client, _ = bench
    query = {"key": "G", "tuning": "richter-raised-3-blow", "valves": "half", "name": "Red one"}
    answer = client.get(f"/bench/paper/{what}.pdf?{urlencode(query)}")
    assert answer.headers["content-type"] == "application/pdf"
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    assert ("raised 3 blow" if what == "cutting" else "Red one") in " ".join(text.split())


def test_a_paper_that_cannot_be_is_refused_with_a_word(bench: tuple[TestClient, House]) -> None:
    client, _ = bench
    for address, what in (
        ("cutting.pdf?valves=none", "No reed of this harp is to be valved"),
        ("sheet.pdf?paper=b0", "Choose one of the papers"),
        ("sheet.pdf?key=H", "is not a key"),
        ("card.pdf?copies=0", "copies"),
    ):
        answer = client.get(f"/bench/paper/{address}")
        assert answer.status_code == 422
        assert what in answer.json()["message"]
    assert client.get("/bench/paper/passwd.pdf").status_code == 422


def keep_measured(house: House, item: int, harp: str, off: dict[Reed, float]) -> None:
    """A measurement of every reed, on target but for those that are off (cents)."""
    targets = reed_targets(parse_harp(harp))
    reeds = tuple(
        ReedMeasure(
            each.reed,
            1,
            each.bench_hz * 2 ** (off.get(each.reed, 0.0) / 1200),
            off.get(each.reed, 0.0),
            0.2,
            0.5,
            0.03,
            -20.0,
        )
        for each in targets.reeds
    )
    measured = Measurement(targets, (), reeds, (), 0.0)
    with open_shelf(house.settings.shelf) as shelf:
        with_entry(shelf, item, lambda history: add_measurement(history, measured), "measured")


def test_a_harps_page_shows_each_reeds_course_and_what_to_do(
    bench: tuple[TestClient, House],
) -> None:
    client, house = bench
    item = new_harp(client, key="G")
    keep_measured(house, item, "G", {})
    keep_measured(house, item, "G", {Reed(4, Breath.DRAW): -12.0})
    html = client.get(f"/bench/harps/{item}").text
    assert html.count('class="course"') == 20
    said = words(html)
    assert "4 draw has sunk by 12.0 cents" in said
    assert "4 draw: 12.0 cents flat; raise it." in said
    assert "Undo: measured" in said
    sheet = client.get(f"/bench/paper/targets.pdf?mine={item}")
    assert sheet.content.startswith(b"%PDF")


def _history(*measured: dict[Reed, float]) -> History:
    targets = reed_targets(parse_harp("G"))
    entries = tuple(
        Measured(
            datetime(2026, month, 1, tzinfo=UTC),
            "check",
            tuple(
                HeardReed(
                    each.reed,
                    each.bench_hz * 2 ** (off.get(each.reed, 0.0) / 1200),
                    each.bench_hz,
                    off.get(each.reed, 0.0),
                    0.3,
                    0.5,
                    0.03,
                    -20.0,
                    1,
                )
                for each in targets.reeds
            ),
        )
        for month, off in enumerate(measured, start=1)
    )
    return History("x", "G", Path("x.toml"), entries)


def test_a_drift_is_told_of_a_reed_and_not_of_breath_that_moves_all_alike() -> None:
    targets = reed_targets(parse_harp("G"))
    four = Reed(4, Breath.DRAW)
    everywhere = dict.fromkeys((each.reed for each in targets.reeds), -6.0)
    told = drift_words(courses(_history({}, everywhere), targets))
    assert len(told) == 1
    assert told[0].startswith("All reeds together lie 6.0 cents lower")
    told = drift_words(courses(_history({}, everywhere | {four: -14.0}), targets))
    assert told[0].startswith("4 draw has sunk by 8.0 cents since 1 January 2026")
    assert drift_words(courses(_history({}, {four: -2.0}), targets)) == ()  # within the errors
    assert drift_words(courses(_history({}), targets)) == ()


@given(
    st.sampled_from(("G", "Ab", "A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#")),
    st.sampled_from(tuple(all_tunings())),
    st.sampled_from(("low", "ordinary", "high")),
    st.sampled_from(("as made", "none", "half", "full", "blow 1, draw 2 3")),
)
def test_a_harp_as_words_is_read_as_the_same_harp(
    key: str, tuning: str, register: str, valves: str
) -> None:
    harp = make_harp(key, tuning, register, valves)
    assert parse_harp(harp_text(harp)) == harp


@given(st.text(max_size=60))
@settings(suppress_health_check=[HealthCheck.too_slow])
def test_whatever_is_written_for_harps_is_read_or_told_of(text: str) -> None:
    wrong = Wrong()
    found = harps_asked(text, wrong, "also")
    assert not (found and wrong)


def test_numbers_are_read_as_people_write_them() -> None:
    assert number("2,5") == number(" 2.5 ") == 2.5
    assert number("\N{MINUS SIGN}3") == -3
    for text in ("", "nan", "inf", "1e999", "two", "1 2"):
        with pytest.raises(ReedwrightError):
            number(text)


def test_things_that_are_no_harps_have_no_page(bench: tuple[TestClient, House]) -> None:
    client, house = bench
    tune = house.shelve()
    for number_ in (tune.id, 999, 2**70):
        assert client.get(f"/bench/harps/{number_}").status_code in (404, 422)
    with open_shelf(house.settings.shelf) as shelf:
        keep_harp(shelf, "the red one", "G")
    again = client.post("/bench/harps", data={"name": "the red one"})
    assert "on the shelf already" in words(again.text)
