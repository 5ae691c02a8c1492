"""A tune is found in the 1850 collection by a few of its notes.

The collection ships with music21. Alignment is checked against a plain edit distance.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import music21
import numpy as np
import pytest
from likeness_excerpts import Excerpt, excerpt, holds

from reedwright.tune.abc import read_abc
from reedwright.tune.likeness.aligning import (
    ADDED,
    MISSED,
    REPEATED,
    WRONG,
    WRONG_BY_SEMITONE,
    costs_of,
    trace,
    window_costs,
)
from reedwright.tune.likeness.collection import GAP, Collection, build_collection
from reedwright.tune.likeness.contour import find_contour
from reedwright.tune.likeness.finding import find, find_any, whole_pitches
from reedwright.tune.likeness.melody import strips
from reedwright.tune.likeness.model import NotFindable, Query, QueryNote
from reedwright.tune.likeness.typed import typed_queries, typed_query
from reedwright.tune.likeness.words import match_report, match_text
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes

EVERY = 4  # of the files, to be quick; benchmarks/finding.py takes all


@lru_cache(maxsize=1)
def collection() -> Collection:
    folder = Path(music21.__file__).parent / "corpus" / "oneills1850"
    read = [tune for file in sorted(folder.glob("*.abc"))[::EVERY] for tune in read_tunes(file)]
    return build_collection(tune for tune in read if isinstance(tune, Tune))


def tune(body: str, head: str = "M:4/4\nL:1/8\nK:C\n") -> Tune:
    (read,) = read_abc(f"X:1\nT:Made\n{head}{body}\n")
    assert isinstance(read, Tune)
    return read


def hits(seed: int, count: int, **options: int | None) -> tuple[float, float]:
    """The shares found first, and among the first five."""
    random = np.random.default_rng(seed)
    first = five = 0
    for _ in range(count):
        taken: Excerpt = excerpt(collection(), random, **options)  # type: ignore[arg-type]
        right = [holds(collection(), m.index, taken) for m in find(collection(), taken.query, 5)]
        first += bool(right and right[0])
        five += any(right)
    return first / count, five / count


@pytest.mark.no_cover
def test_six_right_notes_find_their_tune_in_any_key_and_speed() -> None:
    first, five = hits(1, 40, notes=6)
    assert first >= 0.9 and five >= 0.97


def test_ten_notes_find_their_tune_with_one_slip_and_with_two() -> None:
    first, five = hits(2, 40, notes=10, edits=1)
    assert first >= 0.8 and five >= 0.9
    first, five = hits(3, 40, notes=10, edits=2)
    assert first >= 0.55 and five >= 0.7


@pytest.mark.no_cover
def test_four_seconds_of_ornamented_playing_with_two_slips_find_their_tune() -> None:
    first, five = hits(4, 30, edits=2, ornaments=2)
    assert first >= 0.8 and five >= 0.85


def plain_distance(query: list[int], window: list[int], shift: int, added: list[float]) -> float:
    """The same distance the slow way, by its definition."""
    best = 1e9
    for start in range(len(window) + 1):
        row = [0.0] + [1e9] * (len(window) - start)
        for j in range(1, len(row)):
            k = start + j - 1
            repeated = k > 0 and window[k] == window[k - 1]
            row[j] = row[j - 1] + (REPEATED if repeated else MISSED)
        for i, pitch in enumerate(query):
            new = [row[0] + added[i]]
            for j in range(1, len(row)):
                k = start + j - 1
                apart = (window[k] - pitch - shift) % 12
                unlike = 0.0 if apart == 0 else WRONG_BY_SEMITONE if apart in (1, 11) else WRONG
                repeated = k > 0 and window[k] == window[k - 1]
                leaving = REPEATED if repeated else MISSED
                new.append(min(row[j] + added[i], row[j - 1] + unlike, new[j - 1] + leaving))
            row = new
        best = min(best, *row)
    return best


def test_the_alignment_of_many_windows_equals_a_plain_edit_distance() -> None:
    random = np.random.default_rng(5)
    for _ in range(40):
        query = random.integers(60, 67, int(random.integers(4, 9))).tolist()
        windows = random.integers(60, 67, (6, int(random.integers(5, 9))))
        windows = np.repeat(windows, random.integers(1, 4, windows.shape[1]), axis=1)
        shifts = random.integers(0, 3, 6)
        costs = costs_of(query, None)
        table = window_costs(np.array(query), costs, windows, shifts)
        for k in range(6):
            plain = plain_distance(query, windows[k].tolist(), int(shifts[k]), costs.added.tolist())
            assert table[k, -1].min() == pytest.approx(plain, abs=1e-4)
            steps = trace(table[k], np.array(query), costs, windows[k], int(shifts[k]))
            assert [step.note for step in steps if step.note >= 0] == list(range(len(query)))
            places = [step.place for step in steps if step.place >= 0]
            assert places == list(range(places[0], places[0] + len(places))) if places else True


def test_no_way_leads_across_the_end_of_a_tune() -> None:
    window = np.array([[60, 62, GAP, 64, 65, 67, 69]])
    query = [60, 62, 64, 65]
    table = window_costs(np.array(query), costs_of(query, None), window, np.array([0]))
    assert table[0, -1].min() == pytest.approx(2 * ADDED)


def test_added_missed_wrong_and_octave_are_told_apart() -> None:
    made = build_collection([tune("CDEF GABc|dBGE FDEC|EGce dfge|cBAG c4|]")])
    for notes, expected in (
        ("CDEF GABc", (0, 0, 0, 0)),
        ("CDEF ^GABc", (1, 0, 0, 0)),
        ("CDEF ABc d", (0, 1, 0, 0)),
        ("CDEF GA^GBc", (0, 0, 1, 0)),
        ("CDEF gABc", (0, 0, 0, 1)),
        ("DEFG ABcd", (0, 0, 0, 0)),
    ):
        (found,) = find(made, typed_query(notes), 1)
        told = found.difference
        assert (told.wrong, told.missed, told.added, told.octave) == expected, notes
        assert (found.score == 1) is (expected == (0, 0, 0, 0))
        assert found.first_bar == 1


def test_notes_typed_without_a_key_are_tried_under_the_usual_signatures() -> None:
    made = build_collection([tune("F2AF dFAF|E2cE BEcE|]", "M:C|\nL:1/8\nK:D\n")])
    assert all(each.score < 1 for each in find(made, typed_query("F2AF dFAF E2cE", "C"), 1))
    (found,) = find_any(made, typed_queries("F2AF dFAF E2cE"), 1)
    assert found.score == 1 and found.semitones == 0
    assert len(typed_queries("GABd")) == 3 and len(typed_queries("GABd", "D")) == 1


def test_a_match_says_bars_and_transposition_in_words() -> None:
    made = build_collection([tune("G4|:CDEF GABc|dBGE FDEC:|EGce dfge|cBAG c4|]")])
    (found,) = find(made, typed_query("E,G,CE DFGE", "C"), 1)
    assert (found.first_bar, found.last_bar, found.semitones) == (3, 3, -12)
    assert "bar 3, an octave lower; all notes fit" in match_text(found, 1)
    (found,) = find(made, typed_query("B^A^G^F B4"), 1)
    assert found.semitones == -1 and "a semitone lower" in str(match_report(found)["words"])


def test_the_join_of_a_repeat_is_found_and_a_repeat_is_listed_once() -> None:
    part = "|:CDEF GABc|dBGE FDEC|ECEG cGEC|DFED B,2C2:|"
    made = tune(part + "EGce dfge|cBAG c4|]")
    collected = build_collection([made])
    (found,) = find(collected, typed_query("B,2C2 CDEF"), 1)
    assert found.score == 1 and (found.first_bar, found.last_bar) == (4, 1)
    (found,) = find(collected, typed_query("B,2C2 EGce"), 1)
    assert found.score == 1 and (found.first_bar, found.last_bar) == (4, 5)
    long = tune("|:" + "CDEF GABc|" * 10 + "dBGE FDEC:|EGce dfge|]")
    notes = sum(len(strip) for strip in strips(long))
    assert 96 < notes <= 96 + 40


def test_rhythm_tells_tunes_of_the_same_notes_apart() -> None:
    even, dotted = "CDEF GABc|dcBA GFED|", "C2D E2F|G2A B2c|d2c B2A|G2F E2D|"
    made = build_collection([tune(even), tune(dotted, "M:6/8\nL:1/8\nK:C\n")])
    for index, body in enumerate((even, dotted)):
        asked = typed_query(body.replace("|", ""))
        notes = tuple(QueryNote(n.midi + 5, 0.3 * n.onset, 0.3 * n.length) for n in asked.notes)
        assert find(made, Query(notes), 1)[0].index == index


def test_tuning_that_all_notes_share_is_taken_out() -> None:
    assert whole_pitches([60.45, 62.5, 64.4, 65.55]) in ([60, 62, 64, 65], [61, 63, 65, 66])
    assert whole_pitches([59.7, 61.75, 63.7]) == [60, 62, 64]


def test_ups_and_downs_find_a_tune() -> None:
    random = np.random.default_rng(8)
    for _ in range(10):
        taken = excerpt(collection(), random, 22)
        midi = collection().midi[taken.place : taken.place + 22].astype(int)
        code = "*" + "".join("DRU"[1 + int(np.sign(step))] for step in np.diff(midi))
        found = find_contour(collection(), code, 5)
        assert found[0].score == 1
        assert collection().tune_at(taken.place) in [match.index for match in found]
        wrong = code[:8] + ("U" if code[8] != "U" else "D") + code[9:]
        assert any(
            match.index == collection().tune_at(taken.place)
            for match in find_contour(collection(), wrong, 40)
        )


@pytest.mark.parametrize(
    "notes", ["", "abc", "z4 z4 z4 z4", "hello!", "K:Zmaj", "CDEF\nX:2\nK:C\nCDEF"]
)
def test_what_is_no_melody_is_refused_with_a_word_of_help(notes: str) -> None:
    with pytest.raises(NotFindable) as caught:
        find(collection(), typed_query(notes))
    assert "ABC" in str(caught.value) or "too few" in str(caught.value)


def test_signs_that_are_no_contour_are_refused() -> None:
    for text in ("*UDX", "UU", ""):
        with pytest.raises(NotFindable):
            find_contour(collection(), text)


def test_nothing_like_it_finds_nothing() -> None:
    made = build_collection([tune("CCCC CCCC|CCCC CCCC|]")])
    assert find(made, typed_query("C^c^F,g ^D'=b_A,d")) == []
    assert find(build_collection([]), typed_query("CDEF GABc")) == []
