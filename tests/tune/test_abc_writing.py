"""Tunes written as ABC read back equal; rows of tab stand beneath as lyrics lines."""

from dataclasses import replace
from pathlib import Path

import pytest

from reedwright.tune.abc import read_abc, same_music, write_abc
from reedwright.tune.model import Lyric, Tune
from reedwright.tune.rows import TabRow

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"
HEAD = "X:1\nT:Test\nM:4/4\nL:1/8\nK:G\n"

BODIES = [
    "A2 B2 c2 d2|e8|]",
    "D2|:G2BG DGBd|1 g4 f4:|2 g4 f2|]",
    "|:A8|[1,3 B8:|[2,4 c8:|",
    "A8||B8|]c8[|d8.|e8[|]f8|",
    "A8::B8:|:c8::|d8|]",
    "A8:||:B8:|",
    "^F2 F2 =F2 F2|F8-|F4 ^c'2 C,2|",
    "^F8-|F4 F4|",
    "[CEG]2 [C-E]2 [^FA]-[FA] z2|",
    "A>B c<d A>>B e2|(3ABc (3A>Bc (5ABcde|",
    "{ab}A2 {/^g}A2 z2 x2|Z|X|",
    ".A ~A HA TA uA vA !wedge!A !<(!A|",
    "!segno!A8|B8 !D.S.!|!coda!c8 !fine!|",
    '"Am7"A2 "^hi there"B2 "<l"">r""_b""@x"c2 "G/B"d2|',
    '"^say &quot;hi&quot; 50\\% \\\\"A8|',
    "(A(B)c) (d|e)f- f2 z4|",
    "A4 [K:D] F4|[M:3/4] F6|[Q:1/4=90] A6|[K:Ebdor] A6|",
    "P:A\nA8|B8|\nP:B\nc8|d8|]",
    "A4 B4 & C8|A8|",
    "C2 D2 E2 F2|\nw:syll-a-ble_ is\nG8|\nw:two~words\nA8|\nw:co\\-op",
    "C2 D2|\nw:a b\nw:* d\nE2 F2|\nw:_ f",
    "A8|B8|\n\n",
    "V:1\nA8|\nV:2 clef=bass\nC8|\nw:la\n",
    "L:1/16\nABcd efga b8|",
    "A/B/c// d3/2 e7/4|",
    "A3/7 B2/3|",
]


def tune_of(text: str) -> Tune:
    (tune,) = read_abc(text)
    assert isinstance(tune, Tune), str(tune)
    return tune


@pytest.mark.parametrize("body", BODIES)
def test_written_tune_reads_back_equal(body: str) -> None:
    tune = tune_of(f"{HEAD}{body}\n")
    again = tune_of(write_abc(tune))
    assert same_music(tune, again), write_abc(tune)
    assert [n.explicit for n in tune.voices[0].notes] == [n.explicit for n in again.voices[0].notes]
    assert [b.line_end for b in tune.bars] == [b.line_end for b in again.bars]


@pytest.mark.parametrize(
    "key", ["G", "Edor", "F#m", "D =c", "D exp _b ^f", "HP", "none", "none ^f", "Bb clef=treble-8"]
)
def test_keys_and_clefs_read_back_equal(key: str) -> None:
    tune = tune_of(f"X:1\nT:Test\nM:C|\nL:1/8\nK:{key}\nF2 c2 B2 ^F2|\n")
    assert same_music(tune, tune_of(write_abc(tune)))


def test_header_fields_read_back_equal() -> None:
    head = (
        "X:7\nT:One\nT:Two\nC:Caf\\'e & Co 100\\%\nR:slip jig\nN::odd\nH:One\n+:two\n"
        'U:W = !wedge!\nZ:abc-copyright free\nP:(AB)2\nM:9/8\nL:1/8\nQ:"Slow" 3/8=92.5\nK:Ador\n'
    )
    tune = tune_of(f"{head}P:A\nWA9|\nP:B\nB9|\nW:words after\n")
    again = tune_of(write_abc(tune))
    assert same_music(tune, again)
    assert again.field_texts("C") == ("Café & Co 100%",)
    assert again.tempo == tune.tempo


def test_example_tunes_read_back_equal() -> None:
    tunes = read_abc(EXAMPLES.read_text(encoding="utf-8"))
    assert len(tunes) == 7
    for tune in tunes:
        assert isinstance(tune, Tune)
        assert same_music(tune, tune_of(write_abc(tune)))


def test_difference_in_the_music_is_seen() -> None:
    """`same_music` can fail: another pitch, length, bar line, field or syllable."""
    base = tune_of(f"{HEAD}A2 B2|c4:|\nw:a b c\n")
    for other in ("A2 _B2|c4:|\nw:a b c", "A2 B|c4:|\nw:a b c", "A2 B2|c4|]\nw:a b c",
                  "A2 B2|c4:|\nw:a b d", "A2 B2|c4:|\nw:a b c\nN:new"):  # fmt: skip
        assert not same_music(base, tune_of(f"{HEAD}{other}\n")), other


def test_rows_stand_beneath_the_lines_after_the_lyrics() -> None:
    tune = tune_of(f"{HEAD}{{g}}A2 B2|\nw:la li\nc2 d2|\n")
    first = TabRow("tab", {"n1": "-4", "n1g1": "5", "n2": "4 b", "n4": "6|*~_"})
    text = write_abc(tune, [first, TabRow("second", {"n3": "x"})])
    assert [line for line in text.splitlines() if line.startswith("w:")] == [
        "w:la li",
        r"w:\-4 4~b",
        "w:*",
        r"w:* 6\|\*\~\_",
        "w:x",
    ]
    lyrics = [note.lyrics for note in tune_of(text).voices[0].notes]
    assert lyrics == [
        (Lyric("la"), Lyric("-4")),
        (Lyric("li"), Lyric("4 b")),
        (None, None, Lyric("x")),
        (None, Lyric("6|*~_")),
    ]


def test_accidentals_are_written_only_where_needed() -> None:
    tune = tune_of(f"{HEAD}^c2 c2 =c2 c2|c2 F2 F2 F2|\n")
    line = write_abc(tune).splitlines()[-1]
    assert line.count("^") == 1 and line.count("=") == 1


def test_tune_without_lines_of_its_own_is_broken_every_four_bars() -> None:
    tune = tune_of(f"{HEAD}" + "A8|" * 10 + "\n")
    bars = tuple(replace(bar, line_end=False) for bar in tune.bars)
    tune = replace(tune, voices=(replace(tune.voices[0], bars=bars),))
    assert len(write_abc(tune).splitlines()) == 5 + 3
