"""What is kept of a book: found again only where nothing that it depends on has changed."""

import dataclasses
import os
import subprocess
import sys
import textwrap
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.harp.making import make_harp
from reedwright.pack.book.fingerprint import key_of, key_of_values
from reedwright.pack.book.made import MadeTune, packed, unpacked
from reedwright.pack.book.model import PlannedTune
from reedwright.pack.book.stock import Stock
from reedwright.page.book.model import BookLook, TuneEntry
from reedwright.player.loading import load_profile
from reedwright.tab.choices import Breathe, Choice, NotePlace, TuneChoices
from reedwright.tab.ornaments.model import Amount
from reedwright.tab.wishes import Wishes
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

TUNE = "X:1\nT:Latch\nR:reel\nC:Somebody\nM:4/4\nL:1/8\nK:G\nGABc d2B2|c2A2 G4|]\n"


def read(text: str) -> Tune:
    (tune,) = (each for each in read_abc(text) if isinstance(each, Tune) and each.title == "Latch")
    return tune


def plan(tune: Tune | None = None) -> PlannedTune:
    return PlannedTune("latch", tune or read(TUNE), load_profile("player"))


def test_a_tune_that_only_moved_in_its_file_has_the_key_that_it_had() -> None:
    moved = read("X:9\nT:New\nM:4/4\nL:1/8\nK:D\nD8|]\n\n" + TUNE)
    assert key_of(plan(moved), BookLook()) == key_of(plan(), BookLook())
    elsewhere = replace(read(TUNE), source="elsewhere.abc")
    assert key_of(plan(elsewhere), BookLook()) == key_of(plan(), BookLook())


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("GABc", "GABd"), ("GABc", "G>ABc"), ("R:reel", "R:jig"), ("C:Somebody", "C:Another"),
        ("K:G", "K:Gmix"), ("d2B2", "{e}d2B2"), ("|]", ":|"), ("X:1", "X:2"), ("d2B2", '"G"d2B2'),
        ("K:G", "Z:abc-copyright Mine\nK:G"),
    ],
)  # fmt: skip
def test_any_change_of_a_tune_changes_its_key(old: str, new: str) -> None:
    assert key_of(plan(read(TUNE.replace(old, new))), BookLook()) != key_of(plan(), BookLook())


def test_every_field_of_plan_profile_and_look_counts() -> None:
    bare = plan()
    choice = Choice(NotePlace("A", 1, 1, "G4"), Breathe(True))  # type: ignore[arg-type]
    changes: dict[str, object] = {
        "name": "other",
        "tune": read(TUNE.replace("GABc", "GABd")),
        "player": load_profile("first-year"),
        "harp": make_harp("C"),
        "harps": (make_harp("C"),),
        "octaves": 1,
        "semitones": 2,
        "voice": 1,
        "tempo": 90.0,
        "wishes": Wishes(amount=Amount.FULL),
        "words": "Slowly.",
        "address": "https://a.example",
        "sold": True,
        "choices": TuneChoices(choices=(choice,)),
    }
    assert set(changes) == {each.name for each in dataclasses.fields(PlannedTune)}
    keys = {key_of(bare, BookLook())}
    keys |= {key_of(replace(bare, **{name: to}), BookLook()) for name, to in changes.items()}
    weights = replace(bare.player.weights, neighbour=0.5)
    keys.add(key_of(replace(bare, player=replace(bare.player, weights=weights)), BookLook()))
    keys.add(key_of(replace(bare, harp=make_harp("C", valves="half")), BookLook()))
    looks = [
        BookLook(paper="a5"), BookLook(tab_style="rows"), BookLook(colour=True), BookLook(bleed=3),
        BookLook(links="none"), BookLook(full_notes=False), BookLook(two_to_a_page=False),
    ]  # fmt: skip
    keys |= {key_of(bare, look) for look in looks}
    assert len(keys) == 1 + len(changes) + 2 + len(looks)


def test_a_template_counts_by_what_it_says(tmp_path: Path) -> None:
    template = tmp_path / "mine.typ"
    keys = []
    for text in ("a", "b", "a"):
        template.write_text(text)
        keys.append(key_of(plan(), BookLook(template=template)))
    assert keys[0] == keys[2] != keys[1]


def test_the_key_is_the_same_in_every_process() -> None:
    # Sets of texts are in another order in each process; Python's own salt of hashes is changed.
    program = textwrap.dedent(
        f"""
        from reedwright.pack.book.fingerprint import key_of
        from reedwright.pack.book.model import PlannedTune
        from reedwright.page.book.model import BookLook
        from reedwright.player.loading import load_profile
        from reedwright.tune.abc import read_abc
        tune = next(iter(read_abc({TUNE!r})))
        print(key_of(PlannedTune("latch", tune, load_profile("player")), BookLook()))
        """
    )
    environment = {**os.environ, "PYTHONHASHSEED": "77", "OMP_NUM_THREADS": "1"}
    other = subprocess.run(
        [sys.executable, "-c", program], env=environment, capture_output=True, text=True, check=True
    )
    assert other.stdout.strip() == key_of(plan(), BookLook())


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-3, 3) | st.text(max_size=2),
    lambda inner: (
        st.lists(inner, max_size=3).map(tuple)
        | st.dictionaries(st.text(max_size=2), inner, max_size=2)
        | st.frozensets(st.integers(0, 3), max_size=3)
    ),
    max_leaves=6,
)


@settings(deadline=None)
@given(VALUES, VALUES)
def test_values_have_one_key_only_where_they_are_the_same(one: object, other: object) -> None:
    assert (key_of_values(one) == key_of_values(other)) == (_shape(one) == _shape(other))


def _shape(value: object) -> object:
    """In which 1 is not True, as it is in Python."""
    if isinstance(value, tuple):
        return [_shape(each) for each in value]
    if isinstance(value, dict):
        return {key: _shape(each) for key, each in value.items()}
    return type(value).__name__, value


def made() -> MadeTune:
    entry = TuneEntry(
        "latch", "Latch ♯", ("Lock",), "reel", "G major", "", "G harp", 1, 2.5, "GABc", "", "",
        {"systems": [{"svg": "<svg/>", "width": 1.25}], "qr": ""}, 61.5,
    )  # fmt: skip
    return MadeTune(entry, 1, 0, 0.73, ("Bb4",), ("Something to know.",))


def test_a_tune_comes_back_as_it_was_kept() -> None:
    assert unpacked(packed(made())) == made()


@given(st.data())
def test_a_damaged_entry_counts_as_not_there(data: st.DataObject) -> None:
    content = packed(made())
    at = data.draw(st.integers(0, len(content) - 1))
    changed = bytes([content[at] ^ data.draw(st.integers(1, 255))])
    assert unpacked(content[:at] + changed + content[at + 1 :]) is None
    assert unpacked(content[:at]) is None


def test_the_stock_keeps_no_more_than_it_may_and_what_was_used_last(tmp_path: Path) -> None:
    stock = Stock(tmp_path / "stock", largest=1000)
    keys = [f"{number:064x}" for number in range(20)]
    for age, key in enumerate(keys):
        assert stock.put(key, bytes(100))
        (path,) = (tmp_path / "stock").rglob(f"{key}*")
        os.utime(path, (age, age))
    assert stock.get(keys[0]) == bytes(100)  # used just now
    stock.tidy(in_use=[keys[1]])
    kept = [key for key in keys if stock.get(key) is not None]
    assert kept == [keys[0], keys[1], *keys[14:]]


def test_a_stock_that_cannot_be_written_is_gone_without(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    stock = Stock(tmp_path / "file")
    assert not stock.put("ab" * 32, b"x")
    assert stock.get("ab" * 32) is None
    stock.drop("ab" * 32)
    stock.tidy()


def test_writers_at_the_same_time_leave_whole_entries(tmp_path: Path) -> None:
    program = textwrap.dedent(
        f"""
        from pathlib import Path
        from reedwright.pack.book.stock import Stock
        import sys
        stock = Stock(Path({str(tmp_path)!r}), largest=20000)
        for turn in range(150):
            key = f"{{turn % 7:064x}}"
            stock.put(key, sys.argv[1].encode() * 1000)
            found = stock.get(key)
            assert found is None or len(set(found)) == 1 and len(found) == 1000, found
            if turn % 20 == 0:
                stock.tidy()
        """
    )
    environment = {**os.environ, "OMP_NUM_THREADS": "1"}
    running = [
        subprocess.Popen([sys.executable, "-c", program, letter], env=environment)
        for letter in "abc"
    ]
    assert [process.wait() for process in running] == [0, 0, 0]
    assert not list(tmp_path.rglob("*.part"))


def test_others_programs_and_files_of_rules_count(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A template, a font or a version that changes makes every key another one."""
    from reedwright.pack.book import fingerprint

    def fresh() -> str:
        fingerprint._rules.cache_clear()
        return fingerprint.key_of_values(())

    before = fresh()
    with monkeypatch.context() as patch:
        patch.setattr(fingerprint, "version", lambda name: f"{name} of tomorrow")
        assert fresh() != before
    assert fresh() == before
    house = tmp_path / "house"
    for name in ("page/a.typ", "page/fonts/b.ttf", "tab/c.toml", "harp/d.py"):
        (house / name).parent.mkdir(parents=True, exist_ok=True)
        (house / name).write_text("one", "utf-8")
    with monkeypatch.context() as patch:
        patch.setattr(fingerprint.reedwright, "__file__", str(house / "__init__.py"))
        known = fresh()
        for path in sorted(house.rglob("*.*")):
            path.write_text("two", "utf-8")
            before_it, known = known, fresh()
            assert known != before_it, path
    assert fresh() == before


def test_tunings_of_the_users_own_count_where_any_harp_may_be_chosen(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from reedwright.pack.book import fingerprint

    fingerprint._tunings.cache_clear()
    before = key_of(plan(), BookLook())
    known = dict(fingerprint.all_tunings())
    known["mine"] = replace(known["richter"], name="mine")
    with monkeypatch.context() as patch:
        patch.setattr(fingerprint, "all_tunings", lambda: known)
        fingerprint._tunings.cache_clear()
        assert key_of(plan(), BookLook()) != before
    fingerprint._tunings.cache_clear()


def test_who_sells_a_book_is_told_of_rights_on_its_last_page() -> None:
    from reedwright.pack.book.credits import book_cautions
    from reedwright.pack.cautions import CAUTIONS

    told = book_cautions(())
    assert set(CAUTIONS) < set(told)
    assert any("sold" in each or "sell" in each for each in set(told) - set(CAUTIONS))
