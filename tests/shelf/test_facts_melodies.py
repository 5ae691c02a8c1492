"""Melodies as bytes and back."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from reedwright.shelf.facts.melodies import PLACE, packed, unpacked
from reedwright.tune.likeness.collection import GAP, collection_of
from reedwright.tune.likeness.melody import MelodyNote
from reedwright.tune.likeness.model import Listed

times = st.floats(0, 1e5, width=32)
notes = st.builds(MelodyNote, st.integers(0, 127), times, times, st.integers(-9, 30_000))
melodies = st.lists(st.lists(notes, min_size=1, max_size=8).map(tuple), max_size=4).map(tuple)


@given(melodies)
def test_what_is_packed_comes_back(melody: tuple[tuple[MelodyNote, ...], ...]) -> None:
    assert unpacked(packed(melody)) == melody


@given(st.lists(melodies, min_size=1, max_size=4))
def test_bytes_one_after_the_other_are_a_collections_arrays(
    kept: list[tuple[tuple[MelodyNote, ...], ...]],
) -> None:
    listed = Listed("1", "a", "", "", "", "")
    wanted = collection_of((listed, [list(strip) for strip in melody]) for melody in kept)
    blobs = [packed(melody) for melody in kept]
    places = np.frombuffer(b"".join(blobs), dtype=PLACE)
    for name in ("midi", "bar", "onset", "length"):
        np.testing.assert_array_equal(places[name], getattr(wanted, name))
    lengths = [len(blob) // PLACE.itemsize for blob in blobs]
    np.testing.assert_array_equal(np.cumsum([0, *lengths])[:-1], wanted.firsts)


def test_a_place_is_twelve_bytes_and_a_strip_ends_with_a_gap() -> None:
    content = packed([[MelodyNote(60, 0.0, 1.5, 1)]])
    assert content.hex() == "3c000100000000000000c03f" + (
        GAP.to_bytes(2, "little", signed=True).hex() + "0000" + "00000000" * 2
    )
    assert packed([]) == b""


def test_a_bar_number_too_large_is_cut() -> None:
    assert unpacked(packed([[MelodyNote(60, 0.0, 1.0, 70_000)]]))[0][0].bar == 2**15 - 1
