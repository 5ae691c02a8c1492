"""How well choices find their notes again on real tunes: the 1850 collection, edited.

The tunes come with music21 (public domain, 1850). Ids tell which note was meant. The figures for
more tunes stand in docs/choices.md.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import music21
import pytest

from reedwright.tab.choices import Breathe, Choice, TuneChoices, note_places, resolve
from reedwright.tune.model import Bar, Note, Tune
from reedwright.tune.reading import read_tunes

CORPUS = Path(music21.__file__).parent / "corpus" / "oneills1850"
TUNES = 80
CHOICES = 10

Edit = Callable[[list[Bar], random.Random], list[Bar]]


@pytest.fixture(scope="module")
def tunes() -> list[Tune]:
    found: list[Tune] = []
    for path in sorted(CORPUS.glob("*.abc")):
        found += [t for t in read_tunes(path) if isinstance(t, Tune) and len(t.bars) > 6]
        if len(found) >= TUNES:
            return found[:TUNES]
    raise AssertionError("the collection is not where music21 keeps it")


def test_every_note_of_the_collection_has_a_place_of_its_own(tunes: list[Tune]) -> None:
    for tune in tunes:
        places = [note.place[:4] for note in note_places(tune)]
        assert len(set(places)) == len(places) > 0, tune.title


def bar_put_in(bars: list[Bar], rng: random.Random) -> list[Bar]:
    at = rng.randrange(1, len(bars) - 1)
    source = rng.choice(bars)
    copied = tuple(replace(e, id=f"x{e.id}") for e in source.events if isinstance(e, Note))
    plain = replace(
        bars[at],
        events=copied,
        repeat_open=False,
        repeat_close=0,
        ending=(),
        part=None,
        closing=bars[1].closing,
    )
    after = [replace(bar, number=bar.number + 1) for bar in bars[at:]]
    return [*bars[:at], plain, *after]


def note_taken_out(bars: list[Bar], rng: random.Random) -> list[Bar]:
    at = rng.randrange(len(bars))
    events = list(bars[at].events)
    if len(events) > 1:
        del events[rng.randrange(len(events))]
    return [*bars[:at], replace(bars[at], events=tuple(events)), *bars[at + 1 :]]


@pytest.mark.parametrize(
    ("edit", "right", "wrong"),
    [(bar_put_in, 0.93, 0.05), (note_taken_out, 0.97, 0.02)],
    ids=["a bar put in", "a note taken out"],
)
def test_most_choices_find_the_very_note_after_an_edit(
    tunes: list[Tune], edit: Edit, right: float, wrong: float
) -> None:
    rng = random.Random(5)
    became: Counter[str] = Counter()
    for tune in tunes:
        bars = edit(list(tune.bars), rng)
        voice = replace(
            tune.voices[0], bars=tuple(replace(bar, index=i) for i, bar in enumerate(bars))
        )
        edited = replace(tune, voices=(voice,))
        notes = note_places(tune)
        meant = {
            Choice(note.place, Breathe(True)): note.id
            for note in rng.sample(notes, min(CHOICES, len(notes)))
        }
        resolved = resolve(TuneChoices(choices=tuple(meant)), edited, None)
        assert len(resolved.found) + len(resolved.aside) == len(meant)
        for each in resolved.found:
            became["right" if meant[each.choice] == each.note.id else "wrong"] += 1
        became["aside"] += len(resolved.aside)
    total = sum(became.values())
    assert total > 0.9 * TUNES * CHOICES
    assert became["right"] >= right * total and became["wrong"] <= wrong * total, became
