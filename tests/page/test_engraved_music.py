"""Engraved systems: breaks, tab under its notes, room between texts, the tab font."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from fractions import Fraction
from xml.etree import ElementTree

import pytest
from fontTools.ttLib import TTFont
from handmade_scores import G_MAJOR, REEL, make_tune

from reedwright.page.engraving import Engraver, Look, NotEngraved, engrave
from reedwright.page.lesson import FONTS
from reedwright.page.tabfont import ADVANCES, FAMILY, text_width
from reedwright.tune.model import Change, Lyric, Place, Tempo, Tune, Voice
from reedwright.tune.rows import TabRow

SVG = "{http://www.w3.org/2000/svg}"
LONG_TEXTS = ("10↓''", "6↑", "3↓'''", "9↑", "10↑°", "1↓")


def tab(tune: Tune, texts: tuple[str, ...] = ("6↑", "5↓")) -> TabRow:
    turn = itertools.cycle(texts)
    ids = []
    for note in tune.voices[0].notes:
        ids += [*(grace.id for grace in note.graces), note.id]
    return TabRow("tab", {id_: next(turn) for id_ in ids})


def set_texts(svg: str) -> list[tuple[float, float, float, str]]:
    """Middle, y, width and text of each tab text of a system, in its own units."""
    found = []
    for text in ElementTree.fromstring(svg).iter(f"{SVG}text"):
        if text.get("font-family") == FAMILY:
            size = float(text.get("font-size", "").removesuffix("px"))
            width = text_width(text.text or "") * size
            found.append(
                (float(text.get("x", "")), float(text.get("y", "")), width, text.text or "")
            )
    return found


def test_every_text_of_the_tab_is_set_in_the_order_of_the_notes() -> None:
    tune = make_tune(REEL, anacrusis=True)
    row = tab(tune, tuple("123456789"))
    texts = [text for system in engrave(tune, [row]) for _, _, _, text in set_texts(system.svg)]
    assert texts == list(row.texts.values())


@pytest.mark.parametrize("texts", [("6↑", "5↓"), LONG_TEXTS], ids=["short", "long"])
def test_tab_texts_never_touch(texts: tuple[str, ...]) -> None:
    """Also of crowded grace notes, and with the longest signs there are."""
    lines = ["{A.B}G_ {C'}B_ {D.E.F}A_ D {F}E_ F_ {G}A_ B", *REEL[1:9]]
    for look in (Look(7.0, 11.0), Look(4.8, 9.0)):
        for system in engrave(make_tune(lines), [tab(make_tune(lines), texts)], look=look):
            placed = sorted(set_texts(system.svg))
            for (x1, _, w1, t1), (x2, _, w2, t2) in itertools.pairwise(placed):
                assert x1 + w1 / 2 < x2 - w2 / 2, (look, t1, t2)


def test_tab_stands_in_one_line_and_below_every_note() -> None:
    tune = make_tune(REEL, anacrusis=True)
    for system in engrave(tune, [tab(tune)]):
        lines = {y for _, y, _, _ in set_texts(system.svg)}
        assert len(lines) == 1
        heads = re.findall(r"translate\(-?[\d.]+, (-?[\d.]+)\) scale\(0\.72", system.svg)
        assert max(map(float, heads)) < min(lines)


def test_two_rows_stand_one_above_the_other() -> None:
    tune = make_tune(["G_ B_ A_ D E_ F_ A_ B"])
    ids = [note.id for note in tune.voices[0].notes]
    rows = [
        TabRow("blow", dict.fromkeys(ids[::2], "1")),
        TabRow("draw", dict.fromkeys(ids[1::2], "2")),
    ]
    (system,) = engrave(tune, rows)
    ones = {y for _, y, _, text in set_texts(system.svg) if text == "1"}
    twos = {y for _, y, _, text in set_texts(system.svg) if text == "2"}
    assert len(ones) == len(twos) == 1
    assert max(ones) < min(twos)


def test_note_ids_are_in_the_drawing() -> None:
    tune = make_tune(REEL, anacrusis=True)
    drawn = "".join(system.svg for system in engrave(tune))
    for note in tune.voices[0].notes:
        assert f'id="{note.id}"' in drawn
        assert all(f'id="{grace.id}"' in drawn for grace in note.graces)


def test_lone_grace_notes_inside_beams_keep_their_flag_and_place() -> None:
    """Verovio 6.4 overflows here where the grace note has no beam of its own."""
    tune = make_tune(["G_ {A}B_ C_ D E4"])
    (system,) = engrave(tune, [tab(tune)])
    assert system.height < 30
    assert not re.search(r"(?<![\w.])-?\d{7,}", system.svg)
    plain = make_tune(["G_ B_ C_ D {A}E4"])
    (flagged,) = engrave(plain, [tab(plain)])
    assert system.svg.count('<path d="M') == flagged.svg.count('<path d="M') + 1


def test_chord_symbols_are_in_letters_that_text_fonts_have() -> None:
    tune = make_tune(["G8", "B8", "C8"])
    chords = iter(("F#m7", "Bb", "Ebmaj7/C#"))
    bars = tuple(
        replace(bar, events=tuple(replace(e, chord_symbol=next(chords)) for e in bar.events))
        for bar in tune.bars
    )
    (system,) = engrave(replace(tune, voices=(Voice("1", bars),)))
    texts = ElementTree.fromstring(system.svg).iter(f"{SVG}text")
    words = "".join("".join(text.itertext()) for text in texts)
    assert re.sub(r"\s+", "", words) == "F♯m7B♭E♭maj7/C♯"


def test_words_of_a_song_stand_below_the_tab() -> None:
    tune = make_tune(["G4 B4"])
    (bar,) = tune.bars
    sung = tuple(replace(e, lyrics=(Lyric("la"),)) for e in bar.events)
    tune = replace(tune, voices=(Voice("1", (replace(bar, events=sung),)),))
    (system,) = engrave(tune, [tab(tune)])
    tab_line = max(y for _, y, _, _ in set_texts(system.svg))
    words = [
        float(text.get("y", ""))
        for text in ElementTree.fromstring(system.svg).iter(f"{SVG}text")
        if "la" in "".join(text.itertext())
    ]
    assert len(words) == 2
    # A line of type lower: half of the tab's size at the very least.
    size = 9.9 * 25.4 / 72 * 10 * Look().millimetre
    assert min(words) - tab_line > size / 2
    assert max(words) / 10 < float(ElementTree.fromstring(system.svg).get("viewBox", "").split()[3])


def test_same_drawing_twice() -> None:
    tune = make_tune(REEL, anacrusis=True)
    assert engrave(tune, [tab(tune)]) == engrave(tune, [tab(tune)])


def test_systems_hold_all_bars_once_and_are_as_wide_as_asked() -> None:
    tune = make_tune(REEL, anacrusis=True)
    systems = engrave(tune, [tab(tune)], width=150.0)
    assert [i for system in systems for i in system.bars] == list(range(len(tune.bars)))
    for system in systems:
        assert system.width - system.overhang == pytest.approx(150.0, abs=0.2)


def test_staff_has_the_height_asked_for() -> None:
    """Five lines, measured in the drawing."""
    (system,) = engrave(make_tune(["G8"]), look=Look(6.4, 10.0))
    root = ElementTree.fromstring(system.svg)
    scale = float(root.get("height", "").removesuffix("mm")) / float(
        root.get("viewBox", "").split()[3]
    )
    lines = sorted({int(y) for y in re.findall(r"M\d+ (\d+) L\d+ \1\"", system.svg)})[:5]
    assert (lines[-1] - lines[0]) / 10 * scale == pytest.approx(6.4, abs=0.05)


def test_no_last_system_of_one_bar() -> None:
    tune = make_tune(["G_ B_ A_ D E_ F_ A_ B"] * 17)
    systems = Engraver(tune, [tab(tune)], 0, 178.0)
    for staff in (7.0, 6.0, 5.0):
        plan = systems.plan(Look(staff, max(9.0, staff * 1.58)))
        assert len(tune.bars) - plan.starts[-1] > 1


def test_tune_without_bars_is_refused() -> None:
    empty = Tune("1", ("Nothing",), G_MAJOR, make_tune(["G8"]).meter, (Voice("1", ()),))
    with pytest.raises(NotEngraved, match="Nothing"):
        engrave(empty)


def test_changes_of_tempo_are_printed_and_the_first_tempo_is_not() -> None:
    """The page's head has the first; a song played at half speed has later ones at half."""
    tune = make_tune(["G8", "B8"])
    first, second = tune.bars
    slow = Change(Place(1, 1), tempo=Tempo(Fraction(2), Fraction(60), "Slower"))
    bars = (first, replace(second, events=(slow, *second.events)))
    tune = replace(tune, tempo=Tempo(bpm=Fraction(100)), voices=(Voice("1", bars),))
    for speed, expected in ((Fraction(1), "Slower, minim = 60"), (Fraction(1, 2), "minim = 30")):
        engraver = Engraver(tune, [], 0, 178.0, speed)
        (system,) = engraver.engrave(engraver.plan(Look()))
        words = " ".join(ElementTree.fromstring(system.svg).itertext())
        assert expected in words
        assert "100" not in words


def test_two_rows_are_named_in_every_system_that_has_them() -> None:
    tune = make_tune(REEL, anacrusis=True)
    ids = [note.id for note in tune.voices[0].notes]
    rows = [
        TabRow("blow", dict.fromkeys(ids[::2], "1")),
        TabRow("draw", dict.fromkeys(ids[1::2], "2")),
    ]
    systems = engrave(tune, rows)
    assert len(systems) > 1
    for system in systems:
        root = ElementTree.fromstring(system.svg)
        found = {t.text: float(t.get("y", "")) for t in root.iter(f"{SVG}text") if t.text}
        lines = {text: y for _, y, _, text in set_texts(system.svg)}
        assert (found["blow"], found["draw"]) == (lines["1"], lines["2"])
        starts = [x - width / 2 for x, _, width, _ in set_texts(system.svg)]
        assert min(starts) > 250 * Look().millimetre / 10 * 2  # clear of the names


def test_table_of_widths_is_the_fonts_own() -> None:
    font = TTFont(FONTS / "ReedwrightTab.ttf")
    names, widths = font.getBestCmap(), font["hmtx"]
    assert font["head"].unitsPerEm == 1000
    assert {c: widths[names[ord(c)]][0] for c in ADVANCES} == ADVANCES
    assert font["name"].getDebugName(1) == FAMILY


def test_fonts_come_with_their_licence() -> None:
    for font in FONTS.glob("*.ttf"):
        licence = (FONTS / f"OFL-{font.stem}.txt").read_text()
        assert "SIL OPEN FONT LICENSE" in licence
