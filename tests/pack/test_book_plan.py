"""A book's plan: read from TOML, slips told with their line, written and read again."""

import os
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.errors import ReedwrightError
from reedwright.harp.making import made_harps, make_harp, parse_harp
from reedwright.harp.model import Breath, Reed
from reedwright.harp.tunings import SHIPPED, SHIPPED_NAMES, read_tuning
from reedwright.harp.written import harp_text
from reedwright.pack.book.model import BookPlan, FewestHarps, PlannedChapter
from reedwright.pack.book.plan import ReadPlan, plan_of, read_plan
from reedwright.pack.book.plantable import PlanError
from reedwright.pack.book.plantext import plan_text
from reedwright.pack.book.pool import Library, NotFound
from reedwright.pack.book.settling import Usual
from reedwright.page.book.model import BookLook
from reedwright.player.loading import load_profile
from reedwright.tab.choices import TuneChoices
from reedwright.tab.ornaments.model import Amount
from reedwright.tab.sets.wishes import HarpWishes, Limit
from reedwright.tab.wishes import Wishes
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

HEAD = "M:4/4\nL:1/8\n"
TUNES = "\n".join(
    f"X:{number}\nT:{title}\nR:{kind}\n{HEAD}K:{key}\nGABc d2B2|c2A2 G4|]\n"
    for number, title, kind, key in (
        (1, "The Kettle", "reel", "G"),
        (2, "Old Kettle", "reel", "G"),
        (3, "Ferry Åland", "waltz", "C"),
        (7, "A Lamp", "jig", "D"),
        (8, "A Lamp", "jig", "A"),
    )
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "tunes.abc").write_text(TUNES, encoding="utf-8")
    return tmp_path


def planned(folder: Path, text: str, library: Library | None = None) -> ReadPlan:
    path = folder / "plan.toml"
    path.write_text(text, encoding="utf-8")
    return read_plan(path, library) if library else read_plan(path)


def titles(plan: BookPlan) -> list[list[str]]:
    return [[each.tune.title for each in chapter.tunes] for chapter in plan.chapters]


def test_all_tunes_of_the_sources_where_none_are_named(folder: Path) -> None:
    plan, notices = planned(folder, 'title = "T"\nsources = ["tunes.abc"]\n')
    assert titles(plan) == [["The Kettle", "Old Kettle", "Ferry Åland", "A Lamp", "A Lamp"]]
    assert not notices
    names = [each.name for each in plan.tunes]
    assert names == ["the-kettle", "old-kettle", "ferry-aland", "a-lamp", "a-lamp-8"]


def test_tunes_are_named_by_number_title_part_of_it_and_without_article_or_accent(
    folder: Path,
) -> None:
    text = (
        'sources = ["tunes.abc"]\n'
        'tunes = [3, "kettle", "old", "ferry aland", { tune = "a lamp", number = "8" }]\n'
    )
    plan, notices = planned(folder, text)
    expected = ["Ferry Åland", "The Kettle", "Old Kettle", "Ferry Åland", "A Lamp"]
    assert titles(plan) == [expected]
    assert plan.tunes[-1].tune.number == "8"
    assert not notices


def test_what_is_not_found_or_may_be_several_is_told_with_its_line_and_the_rest_goes_on(
    folder: Path,
) -> None:
    text = (
        'sources = ["tunes.abc",\n  "none.abc"]\n'
        '[[chapter]]\ntitle = "One"\ntunes = [\n  "Ferri Aland",\n  "A Lamp",\n  1,\n]\n'
    )
    plan, notices = planned(folder, text)
    assert titles(plan) == [["The Kettle"]]
    missing, near, several = notices
    assert "plan.toml, line 2:" in missing and "none.abc: there is no such file" in missing
    assert "plan.toml, line 6:" in near and "did you mean 'Ferry Åland'?" in near
    assert "plan.toml, line 7:" in several and "number 7" in several and "number 8" in several
    with pytest.raises(PlanError, match="line 6"):
        read_plan(folder / "plan.toml", strict=True)


def test_a_tune_that_has_no_sensible_reading_is_told_and_the_others_stand(folder: Path) -> None:
    with (folder / "tunes.abc").open("a", encoding="utf-8") as file:
        file.write("\nX:9\nT:Empty\nK:none of them\n[[[\n")
    plan, notices = planned(folder, 'sources = ["tunes.abc"]\n')
    assert titles(plan) == [["The Kettle", "Old Kettle", "Ferry Åland", "A Lamp", "A Lamp"]]
    (notice,) = notices
    assert "tunes.abc, Empty:" in notice


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('titel = "T"\n', "line 1: unknown key 'titel', did you mean 'title'?"),
        ('title = "T"\nharps = "C, H"\n', "'harps'"),
        ('title = "T"\n\n[look]\npaper = "a6"\n', "line 4: Paper 'a6'"),
        ('title = "T"\n[look]\nbleed = 30\n', "line 3: 'bleed' must be a number from 0 to 10"),
        ('title = "T"\n[look]\nstyle = "arows"\n', "did you mean 'arrows'"),
        ('chapters = "kind"\n', "line 1: 'chapters' must be one of own, type, grade, key, harp"),
        ('[[chapter]]\ntitle = "A"\n', "line 2: the chapter 'A' names no tunes"),
        ('[[chapter]]\ntunes = ["1"]\n', "line 1: a chapter needs a title"),
        (
            '[[chapter]]\ntitle="A"\ntunes=["1"]\n[[chapter]]\ntitle="B"\ntunes=["1"]\nword="x"\n',
            "line 7: unknown key 'word', did you mean 'words'?",
        ),
        ('tunes = [{ tune = "The Kettle", octaf = 1 }]\n', "line 1: unknown key 'octaf'"),
        ('tunes = [{ harp = "G" }]\n', "line 1: say which tune"),
        (
            '[[chapter]]\ntitle="A"\ntunes=[\n"1",\n{ tune = "Kettle", octave = 9 },\n]\n',
            "line 5: 'octave' must be a whole number from -4 to 4",
        ),
        ('[[tune]]\ntune = "1"\nvalves = "half"\n', "'valves' needs a harp"),
        ('chapters = "type"\n[[chapter]]\ntitle="A"\ntunes=["1"]\n', "leave one of them out"),
        ('base_address = "tunes.example"\n', "line 1: 'base_address' must begin with https://"),
        ("form = 2\n", "line 1: the plan has form 2"),
        ("[fewest]\nmost = 2\n", 'line 1: [fewest] goes with harps = "fewest"'),
        ('title = "T\n', "not a valid TOML file"),
    ],
)
def test_slips_are_told_with_file_line_and_what_to_do(folder: Path, text: str, told: str) -> None:
    with pytest.raises(ReedwrightError) as failure:
        planned(folder, text)
    assert "plan.toml" in str(failure.value)
    assert told in str(failure.value)


def test_the_plan_goes_before_the_choices_and_these_before_what_is_usual(folder: Path) -> None:
    (folder / "tunes.arrangement.toml").write_text(
        "form = 1\n"
        '[[tune]]\ntitle = "The Kettle"\nnumber = "1"\nharp = "D"\noctaves = 1\namount = "light"\n'
        '[[tune]]\ntitle = "Old Kettle"\nnumber = "2"\nharp = "D"\noctaves = 1\n',
        encoding="utf-8",
    )
    text = (
        'sources = ["tunes.abc"]\namount = "full"\nharps = ["C", "A"]\n'
        '[[tune]]\ntune = "Old Kettle"\nharp = "A:richter:half"\nwords = "Twice."\n'
        "[[tune]]\ntune = 7\nchoices = false\ntempo = 80\nsold = true\n"
    )
    plan, notices = planned(folder, text)
    first, second, third, fourth, _ = plan.tunes
    assert not notices
    assert first.harp == make_harp("D") and first.octaves == 1
    assert first.wishes.amount is Amount.LIGHT
    assert second.harp == make_harp("A", valves="half") and second.octaves == 1
    assert second.words == "Twice." and second.wishes.amount is Amount.FULL
    assert third.harp is None and third.harps == (make_harp("C"), make_harp("A"))
    assert fourth.tempo == 80 and fourth.sold and not third.sold


def test_what_stands_in_a_list_goes_before_what_holds_for_the_tune_everywhere(folder: Path) -> None:
    text = (
        'sources = ["tunes.abc"]\n'
        '[[tune]]\ntune = "Old Kettle"\nharp = "A"\nwords = "Everywhere."\n'
        '[[chapter]]\ntitle = "X"\ntunes = [{ tune = "Old Kettle", words = "Here." }]\n'
    )
    (tune,) = planned(folder, text).plan.tunes
    assert tune.words == "Here." and tune.harp == make_harp("A")


def test_a_harp_that_cannot_be_is_told_of_its_tune_alone(folder: Path) -> None:
    text = 'sources = ["tunes.abc"]\ntunes = [\n1,\n{ tune = "Old Kettle", harp = "H" },\n]\n'
    plan, notices = planned(folder, text)
    assert titles(plan) == [["The Kettle"]]
    (notice,) = notices
    assert "line 4: Old Kettle:" in notice and "'H'" in notice


def test_tunes_and_searches_of_a_library_beyond_files(folder: Path) -> None:
    first = next(iter(read_abc(TUNES)))
    assert isinstance(first, Tune)
    tune = replace(first, source="shelf:12")
    asked: list[object] = []

    def search(wanted: Mapping[str, object]) -> list[Tune]:
        asked.append(dict(wanted))
        return [tune]

    def named(place: str) -> list[Tune]:
        if place != "shelf:12":
            raise NotFound(f"there is no {place}")
        return [tune]

    library = Library(search, named, lambda _: TuneChoices("The Kettle", "1", harp="D"))
    text = (
        '[[chapter]]\ntitle = "Named"\ntunes = ["shelf:12", "shelf:13"]\n'
        '[[chapter]]\ntitle = "Found"\nsearch = { type = "reel", grade = "1-3" }\n'
    )
    plan, notices = planned(folder, text, library)
    assert asked == [{"type": "reel", "grade": "1-3"}]
    assert titles(plan) == [["The Kettle"], ["The Kettle"]]
    assert plan.tunes[0].harp == make_harp("D")
    assert [each.name for each in plan.tunes] == ["the-kettle", "the-kettle-1"]
    assert len(notices) == 1 and "line 3: there is no shelf:13" in notices[0]


def test_a_plan_without_a_library_says_so_where_it_needs_one(folder: Path) -> None:
    _, notices = planned(folder, 'tunes = ["shelf:1"]\n')
    assert "there is none here" in notices[0]


def test_every_harp_that_is_made_is_written_so_that_it_reads_the_same() -> None:
    tunings = [read_tuning(SHIPPED / f"{name}.toml") for name in SHIPPED_NAMES]
    for harp in made_harps(tunings):
        for valves in ("none", "half", "full", "blow 1 2, draw 7"):
            valved = make_harp(harp.key, harp.tuning, harp.register, valves)
            assert parse_harp(harp_text(valved)) == valved
    some = make_harp("C", valves=[Reed(10, Breath.BLOW), Reed(1, Breath.DRAW)])
    assert parse_harp(harp_text(some)) == some


def test_no_tune_takes_the_name_of_a_page_that_a_web_site_has(folder: Path) -> None:
    (folder / "tunes.abc").write_text(TUNES.replace("Old Kettle", "Index"), encoding="utf-8")
    plan, _ = planned(folder, 'sources = ["tunes.abc"]\nbase_address = "https://a.example/"\n')
    assert [each.name for each in plan.tunes][1] == "index-2"
    assert plan.tunes[1].address == "https://a.example/index-2.html"


TEXTS = st.text(
    st.characters(exclude_categories=("Cs", "Cc"), include_characters='"\\é♯'), max_size=20
).map(lambda text: " ".join(text.split()))
HARPS = st.sampled_from([make_harp("C"), make_harp("A", "solo"), make_harp("D", valves="half")])
OCTAVES = st.none() | st.integers(-2, 2)


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_a_written_plan_reads_as_it_was(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("plan")
    (folder / "tunes.abc").write_text(TUNES, encoding="utf-8")
    tunes = [
        replace(tune, source=os.path.normpath(folder / "tunes.abc"))
        for tune in read_abc(TUNES)
        if isinstance(tune, Tune)
    ]
    usual = Usual(load_profile("player"), (make_harp("G"),), base_address="https://a.example/b")
    plan = plan_of(tunes, data.draw(TEXTS.filter(bool)), usual)
    changed = [
        replace(
            tune,
            harp=harp,
            harps=None if harp else tune.harps,
            octaves=data.draw(OCTAVES),
            semitones=data.draw(st.integers(-5, 5)),
            tempo=data.draw(st.none() | st.integers(40, 200).map(float)),
            words=data.draw(TEXTS),
            sold=data.draw(st.booleans()),
            wishes=Wishes(
                amount=data.draw(st.sampled_from(Amount)), second_time=data.draw(st.booleans())
            ),
        )
        for tune in plan.tunes
        for harp in [data.draw(st.none() | HARPS)]
    ]
    cut = data.draw(st.integers(0, len(changed)))
    chapters = [changed[:cut], changed[cut:]] if 0 < cut < len(changed) else [changed]
    own = data.draw(st.booleans()) or len(chapters) > 1
    plan = replace(
        plan,
        chapters=tuple(
            PlannedChapter(data.draw(TEXTS.filter(bool)) if own else "", tuple(mine))
            for mine in chapters
        ),
        by="own" if own else data.draw(st.sampled_from(["own", "type", "harp"])),
        order=data.draw(st.sampled_from(["given", "title", "grade"])),
        preface=tuple(data.draw(st.lists(TEXTS.filter(bool), max_size=2))),
        rights=data.draw(TEXTS),
        look=BookLook(paper="a5", bleed=3.0, links="text", colour=data.draw(st.booleans())),
    )
    text = plan_text(plan, folder)
    tomllib.loads(text)  # Python's own reader takes it, too
    (folder / "plan.toml").write_text(text, encoding="utf-8")
    again, notices = read_plan(folder / "plan.toml")
    assert not notices
    # Where every tune names its harp, the harps to choose from are not told.
    if all(tune.harp for tune in changed):
        again = replace(again, chapters=plan.chapters)
    assert again == plan


def test_the_wish_for_fewest_harps_is_written_and_read(folder: Path) -> None:
    plan, _ = planned(
        folder,
        'sources = ["tunes.abc"]\nharps = "fewest"\n[fewest]\nmost = 2\nno_bends = true\n'
        'owned = ["C", "low D"]\nowned_counts = 0.5\nregisters = ["ordinary"]\n',
    )
    wishes = HarpWishes(
        owned=(make_harp("C"), make_harp("D", register="low")),
        owned_counts=0.5,
        most=2,
        registers=("ordinary",),
    )
    assert plan.fewest == FewestHarps(Limit(no_bends=True), wishes)
    again, _ = planned(folder, plan_text(plan, folder))
    assert again == plan
