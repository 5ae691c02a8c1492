"""Histories of harps: written whole, never losing an entry, refusing what is damaged.

TOML as the standard library's own reader (tomllib, TOML 1.0) reads it is the outside judge of what
is written; killed and competing processes are real ones.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import tempfile
import threading
import time
import tomllib
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from played_reeds import HARP_SHIFT, tones_of

import reedwright.workshop.history.locking as locking
from reedwright.errors import ReedwrightError
from reedwright.harp.making import HarpError, make_harp
from reedwright.harp.model import Breath, Reed
from reedwright.workshop.history.comparing import latest
from reedwright.workshop.history.keeping import (
    add_conversion,
    add_measurement,
    add_note,
    bench_folder,
    histories,
    open_history,
    start_history,
    unreadable,
)
from reedwright.workshop.history.model import (
    Converted,
    HeardReed,
    History,
    HistoryError,
    Measured,
    NoHistory,
    Noted,
)
from reedwright.workshop.history.reading import read_history
from reedwright.workshop.history.writing import entry_text, head_text
from reedwright.workshop.measuring.model import Beats, Measurement, NamedTone, Tone
from reedwright.workshop.measuring.naming import name_reeds
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import Targets

G = reed_targets(make_harp("G"))
B, D = Breath.BLOW, Breath.DRAW
TEXTS = st.text(st.characters(codec="utf-8"), max_size=80)
DATES = st.datetimes(
    datetime(1990, 1, 1),
    datetime(2100, 1, 1),
    timezones=st.integers(-14 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m))),
).map(lambda date: date.replace(microsecond=0))


def measured(targets: Targets = G, seed: int = 1, off: float = 10.0) -> Measurement:
    row = [target.reed for target in targets.reeds]
    random = np.random.default_rng(seed)
    return name_reeds(tones_of(row, targets, random, HARP_SHIFT, off)[0], targets)


def test_a_harp_is_found_by_its_name_in_any_writing(tmp_path: Path) -> None:
    begun = start_history("  the  red G ", "G:richter:half", tmp_path)
    assert begun.name == "the red G" and begun.path.name == "the-red-g.toml"
    assert open_history("The Red g", tmp_path) == begun
    with pytest.raises(HistoryError, match="already"):
        start_history("THE RED G", "C", tmp_path)


def test_a_harp_that_has_no_history_is_told_with_what_is_near(tmp_path: Path) -> None:
    start_history("the red G", "G", tmp_path)
    with pytest.raises(NoHistory, match="did you mean 'the red G'"):
        open_history("the rod G", tmp_path)


@pytest.mark.parametrize("name", ["", "  ", "x" * 121])
def test_what_cannot_be_a_name_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(HistoryError, match="name"):
        start_history(name, "G", tmp_path)
    with pytest.raises(HarpError):
        start_history("fine", "G:richter:half:more", tmp_path)
    assert not list(tmp_path.iterdir())


def test_names_that_make_one_file_name_are_kept_apart(tmp_path: Path) -> None:
    names = ["red G", "red-g!", "Red, G?", "赤い", "青い", "con", "../red g", ".red"]
    made = [start_history(name, "G", tmp_path) for name in names]
    assert len({each.path for each in made}) == len(names)
    assert all(each.path.parent == tmp_path for each in made)
    assert [open_history(name, tmp_path).name for name in names] == names
    assert {each.name for each in histories(tmp_path)} == set(names)


def test_where_histories_are_kept_can_be_said(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv("REEDWRIGHT_BENCH", str(tmp_path / "mine"))
    assert bench_folder() == tmp_path / "mine"
    assert start_history("one", "C").path == tmp_path / "mine" / "one.toml"
    assert [each.name for each in histories()] == ["one"]
    monkeypatch.delenv("REEDWRIGHT_BENCH")
    assert bench_folder().name == "bench"


def test_a_measurement_comes_back_as_it_was(tmp_path: Path) -> None:
    named = measured()
    pair = NamedTone(
        Tone(40, 42, 196.0, 0.1, 1, 0.03, -20, 30, 392.5, 0.1, Beats(0.513, 0.02, (2, 1))),
        *(Reed(1, B), 0.0, 1.0, Reed(4, B), 2.2),
    )
    whole = Measurement(G, (*named.tones, pair), named.reeds, (), named.shift)
    begun = start_history("one", "G", tmp_path)
    date = datetime(2026, 11, 28, 14, 30, 5, tzinfo=timezone(timedelta(hours=1)))
    add_measurement(begun, whole, "before", "sticky 5 draw", date)
    (entry,) = open_history("one", tmp_path).entries
    assert isinstance(entry, Measured)
    assert (entry.date, entry.when, entry.note) == (date, "before", "sticky 5 draw")
    assert entry.date.utcoffset() == timedelta(hours=1)
    assert [each.reed for each in entry.reeds] == [each.reed for each in named.reeds]
    for kept, was in zip(entry.reeds, named.reeds, strict=True):
        assert kept.hz == pytest.approx(was.hz, abs=6e-5)
        assert kept.cents == pytest.approx(was.cents, abs=0.006)
        assert kept.uncertainty == pytest.approx(was.uncertainty, abs=0.006)
    assert entry.beats[0].reeds == (Reed(1, B), Reed(4, B)) and entry.beats[0].rate == 0.513
    assert latest(open_history("one", tmp_path))[Reed(5, D)] == entry.of(Reed(5, D)).hz


def test_a_measurement_is_before_after_or_a_check(tmp_path: Path) -> None:
    with pytest.raises(HistoryError, match="before, after, check"):
        add_measurement(start_history("one", "G", tmp_path), measured(), "during")


@given(name=TEXTS, harp=TEXTS, note=TEXTS, kind=TEXTS, date=DATES, works=st.lists(TEXTS))
@example("x", "C", "a\\nb\n\\\\n\n\\\nc\\", "note", datetime(2026, 1, 1, tzinfo=UTC), [])
@example("x", "C", '"""\n"\r\n\x7f\t\x00', "[[entry]]", datetime(2026, 1, 1, tzinfo=UTC), ["\n"])
@settings(max_examples=60, deadline=None)
def test_any_text_and_date_come_back(name, harp, note, kind, date, works) -> None:
    done = tuple((Reed(k + 1, D), words) for k, words in enumerate(works))
    entries = (
        Noted(date, note, kind if kind not in ("measurement", "conversion") else "note"),
        Converted(date, harp, done, note),
    )
    text = head_text(name, harp) + "".join(entry_text(each) for each in entries)
    back = read_history(Path("x.toml"), text)
    assert (back.name, back.harp, back.entries) == (name, harp, entries)
    # A note of several lines is written so: what is read again is what was written.
    assert tomllib.loads(text)["entry"][0].get("note", "") == note


@given(
    numbers=st.lists(st.floats(-200, 200).map(lambda x: round(x, 1)), min_size=6, max_size=6),
    hz=st.floats(20, 9000).map(lambda x: round(x, 4)),
    tones=st.integers(1, 99),
    date=DATES,
)
@settings(max_examples=40, deadline=None)
def test_any_measured_reed_comes_back(numbers, hz, tones, date) -> None:
    cents, doubt, wander, attack, level, shift = numbers
    reed = HeardReed(
        Reed(10, D), hz, 440.0, cents, abs(doubt), abs(wander), abs(attack), level, tones
    )
    entry = Measured(date, "after", (reed,), "equal, A 440", False, shift, (), "")
    back = read_history(Path("x.toml"), head_text("x", "C") + entry_text(entry))
    assert back.entries == (entry,)


@given(name=st.text(min_size=1, max_size=130), note=st.text(max_size=40))
@settings(max_examples=40, deadline=None)
def test_odd_names_and_notes_are_kept_or_refused_with_a_reason(name: str, note: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        try:
            begun = start_history(name, "G", Path(folder))
            add_note(begun, note)
        except ReedwrightError as error:
            assert str(error)
        for each in histories(Path(folder)):
            assert open_history(name, Path(folder)) == each
        assert not unreadable(Path(folder))


def test_what_a_user_or_a_later_version_wrote_stays_to_the_letter(tmp_path: Path) -> None:
    begun = start_history("one", "G", tmp_path)
    own = (
        begun.path.read_text()
        + '\n# mine\nshop = "corner"   # odd   spacing\n\n[[entry]]\n'
        + 'kind = "photo"\ndate = 2026-01-02\nfile = "a.jpg"\nlight.lux = 5\n\n[later]\nx = 1'
    )
    begun.path.write_text(own)
    after = add_note(open_history("one", tmp_path), "bought used")
    text = begun.path.read_text()
    assert text.startswith(own)
    assert [type(each) for each in after.entries] == [Noted, Noted]
    assert after.entries[0].kind == "photo"
    assert tomllib.loads(text)["later"] == {"x": 1}
    assert tomllib.loads(text)["entry"][0]["light"] == {"lux": 5}


@pytest.mark.parametrize(
    ("damage", "line"),
    [
        (lambda text: text + "hz = = 3\n", "line 11"),
        (lambda text: text[: len(text) - 3], "line 10"),
        (lambda text: text.replace("date = ", "day = "), "line 7"),
        (lambda text: text.replace("date = 2", 'date = "2').replace("+00:00", '+00:00"'),
         "line 7: .*without quotes"),
        (lambda text: text.replace("name", "nome"), "line 1"),
        (lambda text: text + '[[entry]]\nkind = "measurement"\ndate = 2026-01-01\n'
         '[entry.reeds]\n"3 blew" = { hz = 5.0 }\n', "line 11: .*3 blew"),
        (lambda text: text + '[[entry]]\nkind = "measurement"\ndate = 2026-01-01\n'
         '[entry.reeds]\n"3 blow" = { hz = -5.0 }\n', "line 11: .*3 blow"),
    ],
)  # fmt: skip
def test_a_damaged_file_is_refused_with_its_line_and_stays(damage, line, tmp_path: Path) -> None:
    begun = add_note(
        start_history("one", "G", tmp_path), "bought", datetime(2026, 1, 1, tzinfo=UTC)
    )
    broken = damage(begun.path.read_text())
    begun.path.write_text(broken)
    for act in (
        lambda: add_note(begun, "again"),
        lambda: open_history("one", tmp_path),
        lambda: start_history("one", "C", tmp_path),
    ):
        with pytest.raises(HistoryError) as caught:
            act()
        assert str(begun.path) in str(caught.value)
    with pytest.raises(HistoryError, match=line):
        add_note(begun, "again")
    assert begun.path.read_text() == broken
    # The others are still to be had.
    start_history("two", "C", tmp_path)
    assert [each.name for each in histories(tmp_path)] == ["two"]
    assert len(unreadable(tmp_path)) == 1


def test_bytes_that_are_no_text_are_refused_with_their_line(tmp_path: Path) -> None:
    begun = start_history("one", "G", tmp_path)
    broken = begun.path.read_bytes() + b"# \xff\n"
    begun.path.write_bytes(broken)
    with pytest.raises(HistoryError, match="line 6"):
        add_note(begun, "again")
    assert begun.path.read_bytes() == broken


def test_a_file_of_a_later_version_is_not_written_to(tmp_path: Path) -> None:
    begun = start_history("one", "G", tmp_path)
    later = begun.path.read_text().replace("format = 1", "format = 2")
    begun.path.write_text(later)
    with pytest.raises(HistoryError, match="later version"):
        add_note(begun, "again")
    assert begun.path.read_text() == later


def test_entries_that_nothing_can_be_added_behind_are_left_alone(tmp_path: Path) -> None:
    begun = start_history("one", "G", tmp_path)
    odd = begun.path.read_text() + 'entry = [{ date = 2026-01-01, note = "by hand" }]\n'
    begun.path.write_text(odd)
    assert open_history("one", tmp_path).entries[0].note == "by hand"
    with pytest.raises(HistoryError, match=r"written \[\[entry\]\]"):
        add_note(begun, "again")
    assert begun.path.read_text() == odd


def test_a_history_that_was_deleted_is_not_begun_again_by_an_entry(tmp_path: Path) -> None:
    begun = start_history("one", "G", tmp_path)
    begun.path.unlink()
    with pytest.raises(NoHistory):
        add_note(begun, "bought")
    with pytest.raises(HistoryError, match="nothing to note"):
        add_note(begun, "  ")


def test_a_linked_history_stays_linked(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    begun = start_history("one", "G", tmp_path / "a")
    link = tmp_path / "b" / "one.toml"
    link.symlink_to(begun.path)
    add_note(open_history("one", tmp_path / "b"), "bought")
    assert link.is_symlink() and len(open_history("one", tmp_path / "a").entries) == 1


def _add_many(path: str, who: int, many: int) -> None:
    begun = History("one", "G", Path(path))
    for k in range(many):
        add_note(begun, f"{who}-{k}")


NEEDS_FORK = pytest.mark.skipif(
    "fork" not in multiprocessing.get_all_start_methods(), reason="the system has no fork"
)


@NEEDS_FORK
@pytest.mark.parametrize("system_lock", [True, False])
def test_processes_that_add_at_once_keep_all_entries(
    system_lock: bool, tmp_path: Path, monkeypatch
) -> None:
    if not system_lock:  # as on Windows: no such module
        monkeypatch.setitem(sys.modules, "fcntl", None)
    begun = start_history("one", "G", tmp_path)
    fork = multiprocessing.get_context("fork")
    workers = [fork.Process(target=_add_many, args=(str(begun.path), k, 8)) for k in range(4)]
    for each in workers:
        each.start()
    for each in workers:
        each.join()
    assert [each.exitcode for each in workers] == [0] * 4
    notes = [each.note for each in open_history("one", tmp_path).entries]
    assert sorted(notes) == sorted(f"{who}-{k}" for who in range(4) for k in range(8))
    assert sorted(os.listdir(tmp_path)) == ["one.toml"]


@NEEDS_FORK
def test_a_process_that_is_killed_leaves_whole_entries_and_no_lock(tmp_path: Path) -> None:
    begun = start_history("one", "G", tmp_path)
    add_note(begun, "first")
    fork = multiprocessing.get_context("fork")
    for delay in (0.0, 0.004, 0.011, 0.023, 0.037):
        before = len(open_history("one", tmp_path).entries)
        worker = fork.Process(target=_add_many, args=(str(begun.path), 9, 100_000))
        worker.start()
        while len(open_history("one", tmp_path).entries) == before and worker.is_alive():
            time.sleep(0.001)  # until it is in the middle of its work
        time.sleep(delay)
        os.kill(worker.pid or 0, signal.SIGKILL)
        worker.join()
        kept = open_history("one", tmp_path)
        assert len(kept.entries) > before and worker.exitcode == -signal.SIGKILL
        assert kept.entries[0].note == "first" and not unreadable(tmp_path)
    assert add_note(begun, "last").entries[-1].note == "last"
    assert [each.name for each in histories(tmp_path)] == ["one"]


def test_a_write_that_is_broken_off_leaves_the_file_as_it_was(tmp_path: Path, monkeypatch) -> None:
    begun = add_note(start_history("one", "G", tmp_path), "first")
    was = begun.path.read_bytes()

    def refused(self: Path, target: Path) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "replace", refused)
    with pytest.raises(KeyboardInterrupt):
        add_note(begun, "second")
    monkeypatch.undo()
    assert begun.path.read_bytes() == was and os.listdir(tmp_path) == ["one.toml"]


def test_a_lock_that_was_left_behind_counts_no_more_after_a_while(
    tmp_path: Path, monkeypatch
) -> None:
    monkeypatch.setitem(sys.modules, "fcntl", None)
    begun = start_history("one", "G", tmp_path)
    left = tmp_path / locking.LOCK_FILE
    left.touch()
    monkeypatch.setattr(locking, "LONGEST_WAIT", 0.05)
    with pytest.raises(HistoryError, match="holds this folder"):
        add_note(begun, "too soon")
    os.utime(left, (1, 1))
    assert len(add_note(begun, "later").entries) == 1


def test_a_lock_that_was_left_behind_passes_to_one_alone(tmp_path: Path, monkeypatch) -> None:
    """Two wait and both see that it is stale; the slower one must not take away what the quicker
    one has made since."""
    lock = tmp_path / locking.LOCK_FILE
    lock.touch()
    os.utime(lock, (1, 1))
    looked, inside, most = [], [], []
    both, judge = threading.Barrier(2), locking._left_behind

    def slowly(path: Path) -> bool:
        stale = judge(path)
        if len(looked) < 2:
            looked.append(path)
            slower = len(looked) == 2
            both.wait()
            time.sleep(0.1 if slower else 0)
        return stale

    monkeypatch.setattr(locking, "_left_behind", slowly)

    def enter() -> None:
        with locking._lock_file(tmp_path):
            inside.append(1)
            most.append(len(inside))
            time.sleep(0.3)
            inside.pop()

    threads = [threading.Thread(target=enter) for _ in range(2)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert most == [1, 1]
    assert not os.listdir(tmp_path)


def test_who_holds_the_folder_too_long_is_told_of(tmp_path: Path, monkeypatch) -> None:
    fcntl = pytest.importorskip("fcntl", reason="the system has no such lock")
    begun = start_history("one", "G", tmp_path)
    monkeypatch.setattr(locking, "LONGEST_WAIT", 0.05)
    handle = os.open(tmp_path, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        with pytest.raises(HistoryError, match="another program is writing there"):
            add_note(begun, "too soon")
    finally:
        os.close(handle)
    assert len(add_note(begun, "later").entries) == 1


def test_a_tuning_file_is_named_so_that_it_is_found_from_elsewhere(
    tmp_path: Path, monkeypatch
) -> None:
    tuning = tmp_path / "odd.toml"
    source = Path(make_harp.__code__.co_filename).parent / "data" / "richter.toml"
    tuning.write_text(source.read_text().replace("Richter", "odd"))
    monkeypatch.chdir(tmp_path)
    begun = start_history("one", "G:odd.toml:half", tmp_path)
    assert begun.harp == f"G:{tuning}:half"
    assert add_conversion(begun, "G:odd.toml").harp_now == f"G:{tuning}"
