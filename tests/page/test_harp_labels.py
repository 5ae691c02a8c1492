"""Labels as they come out of the printer: measured in the rasterised page, read by poppler."""

from __future__ import annotations

import numpy as np
import pytest
from printed_pages import (
    MARKUP,
    PIXELS,
    fonts_embedded,
    line_places,
    of_kind,
    raster,
    read,
    runs_of_ink,
    text_of,
    word_places,
)

from reedwright.errors import ReedwrightError
from reedwright.harp.making import make_harp
from reedwright.page.bench.label import labels_pdf
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import TargetWishes


@pytest.mark.parametrize("size", [(60.0, 20.0), (45.0, 30.0)])
def test_labels_are_cut_to_their_true_size(size: tuple[float, float]) -> None:
    """Lines run two millimetres beyond the labels, where nothing else is printed."""
    pdf = labels_pdf(make_harp("C"), count=7, size=size, maker="The Low Bridge Bench")
    page = raster(pdf)
    across = line_places(page[round(17 * PIXELS)])
    assert np.diff(across) == pytest.approx(size[0], abs=0.1)
    down = line_places(page[:, round((across[0] - 1) * PIXELS)])
    # The bar to measure by, and the words beside it, stand above the first line.
    down = [place for place in down if place > 17.5]
    assert np.diff(down) == pytest.approx(size[1], abs=0.1)
    assert len(across) - 1 == int(190 // size[0])
    assert len(down) - 1 == -(-7 // (len(across) - 1))
    # Every label's words stand in their own place, at the same distance.
    starts = sorted({round(x, 1) for x, _ in word_places(pdf, "standard")})
    assert np.diff(starts) == pytest.approx(size[0], abs=0.1)
    assert len(starts) == len(across) - 1


def test_the_bar_is_fifty_millimetres_long() -> None:
    page = raster(labels_pdf(make_harp("C")))
    rows = page[: round(17 * PIXELS)]
    longest = max(end - start for row in rows for start, end in runs_of_ink(row))
    assert longest == pytest.approx(50.0, abs=0.15)


def test_a_label_says_key_tuning_valves_pitch_who_and_when() -> None:
    harp = make_harp("Bb", "richter-raised-3-blow", "low", valves="half")
    targets = reed_targets(harp, TargetWishes("just", a4=442.5))
    text = text_of(labels_pdf(targets, name="No. 12", maker="Ann Wren", date="1 May 2026"))
    for part in ("low", "B♭", "raised 3 blow, half-valved", "five-limit just intonation"):
        assert part in text
    for part in ("A4 = 442.5 Hz", "No. 12", "Ann Wren", "1 May 2026"):
        assert part in text


def test_sixty_by_twenty_millimetres_unless_asked_otherwise() -> None:
    assert labels_pdf(make_harp("C")) == labels_pdf(make_harp("C"), size=(60.0, 20.0))


def test_each_harp_has_as_many_labels_as_asked_for() -> None:
    harps = [make_harp("C"), make_harp("Eb", "slide-solo-12"), make_harp("F#", "natural-minor")]
    text = text_of(labels_pdf(harps, count=3, paper="a5"))
    assert text.count("standard tuning") == 3
    assert text.count("natural minor") == 3
    assert text.count("twelve-hole slide, solo") == 3
    assert "fully valved" not in text, "as such harps are made"


def test_many_labels_go_on_over_the_page_and_copies_are_not_read_aloud() -> None:
    pdf = labels_pdf(make_harp("C"), count=40)
    assert len(read(pdf).pages) == 2
    assert text_of(pdf).count("standard tuning") == 40
    assert len(of_kind(pdf, "/P")) == len(of_kind(labels_pdf(make_harp("C")), "/P"))
    assert b"pdfuaid:part" in pdf
    assert all(fonts_embedded(pdf))


def test_names_print_as_typed() -> None:
    assert MARKUP in text_of(labels_pdf(make_harp("C"), maker=MARKUP))


def test_long_words_shrink_and_too_many_are_refused() -> None:
    long = "The old ferry house below the low bridge"
    assert long in text_of(labels_pdf(make_harp("C"), maker=long))
    with pytest.raises(ReedwrightError, match=r"words do not fit.*larger size"):
        labels_pdf(make_harp("C"), maker=long * 12)


def test_one_word_longer_than_the_label_does_not_run_into_the_next() -> None:
    assert "x" * 30 in text_of(labels_pdf(make_harp("C"), maker="x" * 30))
    with pytest.raises(ReedwrightError, match="words do not fit"):
        labels_pdf(make_harp("C"), maker="x" * 100)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"size": (20.0, 20.0)}, "too small to read"),
        ({"size": (300.0, 20.0)}, "does not fit the paper"),
        ({"count": 0}, "one or more"),
        ({"paper": "a3"}, "choose one of"),
    ],
)
def test_what_cannot_be_printed_is_refused(asked: dict[str, object], said: str) -> None:
    with pytest.raises(ReedwrightError, match=said):
        labels_pdf(make_harp("C"), **asked)


def test_the_same_labels_have_the_same_bytes() -> None:
    assert labels_pdf(make_harp("C"), count=2) == labels_pdf(make_harp("C"), count=2)
