"""The file of melodies is looked into where it lies: its arrays are not copied to be searched."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from reedwright.shelf.facts.tunes import add_tune
from reedwright.shelf.finding import melodies
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

BODIES = ("GABc d2B2|", "DEFG AFd|", "c2e2 g|")


def test_arrays_in_the_file_begin_where_numpy_need_not_copy_them(tmp_path: Path) -> None:
    # numpy.org, ndarray.flags: an array that is not aligned is copied by most of its functions.
    with open_shelf(tmp_path) as shelf:
        for body in BODIES:
            (tune,) = read_abc(f"X:1\nT:Made\nM:4/4\nL:1/8\nK:G\n{body}\n")
            assert isinstance(tune, Tune)
            add_tune(shelf, tune)
            melodies.prepare(shelf)
            kept = melodies._read(tmp_path / melodies.CACHE)
            assert kept is not None
            for name in melodies._ARRAYS:
                array = getattr(kept.collection, name)
                assert array.flags.aligned and type(array) is np.ndarray, name
            made = melodies._index(shelf, kept.items, kept.stamps).collection
            for name in melodies._ARRAYS:
                np.testing.assert_array_equal(
                    getattr(kept.collection, name), getattr(made, name), name
                )
