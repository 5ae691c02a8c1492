"""ABC as the standard says: The abc music standard 2.1 (Dec 2011). Sections are named beside."""

from fractions import Fraction

import pytest

from reedwright.tune.abc import Refused, read_abc
from reedwright.tune.model import Annotation, BarLine, Change, Lyric, Meter, Note, Rest, Tune


def read(body: str, header: str = "M:4/4\nL:1/8\nK:C") -> Tune:
    tunes = read_abc(f"X:1\nT:Test\n{header}\n{body}\n")
    assert len(tunes) == 1
    tune = tunes[0]
    assert isinstance(tune, Tune), str(tune)
    return tune


def notes(body: str, header: str = "M:4/4\nL:1/8\nK:C") -> list[Note]:
    return list(read(body, header).voices[0].notes)


def names(body: str, header: str = "M:4/4\nL:1/8\nK:C") -> str:
    return " ".join(note.pitch.name for note in notes(body, header))


def lengths(body: str, header: str = "M:4/4\nL:1/8\nK:C") -> list[Fraction]:
    """In units of an eighth note."""
    return [note.length * 2 for note in notes(body, header)]


def test_octaves_of_section_4_1() -> None:
    assert names("C,, C, C c c' c''|") == "C2 C3 C4 C5 C6 C7"


def test_accidentals_of_section_4_2() -> None:
    assert names("^A _A =A ^^A __A|") == "A#4 Ab4 A4 A##4 Abb4"


def test_accidental_holds_to_the_end_of_the_bar_in_all_octaves() -> None:
    """Section 11.3: `pitch` is the default."""
    assert names("^F F f F,|F|") == "F#4 F#4 F#5 F#3 F4"


@pytest.mark.parametrize(
    ("rule", "expected"),
    [("not", "F#4 F4 F5"), ("octave", "F#4 F#4 F5"), ("pitch", "F#4 F#4 F#5")],
)
def test_propagate_accidentals_of_section_11_3(rule: str, expected: str) -> None:
    assert names("^F F f|", f"M:4/4\nL:1/8\nI:propagate-accidentals {rule}\nK:C") == expected


def test_tie_carries_an_accidental_over_the_bar_line() -> None:
    assert names("^F4-|F4 F4|") == "F#4 F#4 F4"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("A A2 A3 A3/2 A/2 A/ A// A/4 A3/", [1, 2, 3, "3/2", "1/2", "1/2", "1/4", "1/4", "3/2"]),
        ("A>B A>>B A>>>B", ["3/2", "1/2", "7/4", "1/4", "15/8", "1/8"]),  # section 4.4
        ("A<B A<<B", ["1/2", "3/2", "1/4", "7/4"]),
        ("A > B A>{g}B A>!trill!B A>~B", ["3/2", "1/2"] * 4),
        ("[CE]>[DF]", ["3/2", "1/2"]),
        ("(3ABc", ["2/3"] * 3),  # section 4.13
        ("(2AB", ["3/2"] * 2),
        ("(4ABcd", ["3/4"] * 4),
        ("(5ABcde", ["2/5"] * 5),
        ("(6ABcdef", ["1/3"] * 6),
        ("(3:2:2A4B2", ["8/3", "4/3"]),
        ("(3::2AB", ["2/3"] * 2),
        ("(3:4AB c", ["4/3"] * 3),
        ("(3A>Bc", ["1", "1/3", "2/3"]),
    ],
)
def test_note_lengths(text: str, expected: list[object]) -> None:
    assert lengths(text + "|") == [Fraction(str(length)) for length in expected]


@pytest.mark.parametrize("metre", ["6/8", "9/8", "12/8"])
def test_tuplets_of_five_and_seven_take_three_in_compound_metres(metre: str) -> None:
    assert lengths("(5ABcde|", f"M:{metre}\nL:1/8\nK:C") == [Fraction(3, 5)] * 5
    assert lengths("(7ABcdefg|", f"M:{metre}\nL:1/8\nK:C") == [Fraction(3, 7)] * 7


def test_first_and_last_of_a_tuplet_are_marked() -> None:
    marks = [note.tuplet and (note.tuplet.first, note.tuplet.last) for note in notes("(3ABc d|")]
    assert marks == [(True, False), (False, False), (False, True), None]


# The circle of fifths (common knowledge): sharps (positive) or flats of each key.
@pytest.mark.parametrize(
    ("text", "name", "fifths"),
    [
        ("C", "C major", 0),
        ("G", "G major", 1),
        ("Gmaj", "G major", 1),
        ("G Ionian", "G major", 1),
        ("F#", "F# major", 6),
        ("Bb", "Bb major", -2),
        ("Gb", "Gb major", -6),
        ("Am", "A minor", 0),
        ("Amin", "A minor", 0),
        ("a minor", "A minor", 0),
        ("AAeolian", "A minor", 0),
        ("F#m", "F# minor", 3),
        ("C#m", "C# minor", 4),
        ("Ebm", "Eb minor", -6),
        ("Edor", "E dorian", 2),
        ("E Dorian", "E dorian", 2),
        ("eDOR", "E dorian", 2),
        ("D Mix", "D mixolydian", 1),
        ("AMIXOLYDIAN", "A mixolydian", 2),
        ("F Lyd", "F lydian", 0),
        ("E phr", "E phrygian", 0),
        ("BLocrian", "B locrian", 0),
        ("none", "none", 0),
        ("", "none", 0),
    ],
)
def test_keys_of_section_3_1_14(text: str, name: str, fifths: int) -> None:
    key = read("A8|", f"M:4/4\nL:1/8\nK:{text}").key
    assert (key.name, key.fifths) == (name, fifths)


@pytest.mark.parametrize(
    ("text", "sounding"),
    [
        ("D =c", "F#4 C5"),
        ("D=c", "F#4 C5"),
        ("Dmix=f", "F4 C5"),
        ("D Phr ^f", "F#4 C5"),
        ("D exp _b", "F4 C5"),
        ("D exp ^c", "F4 C#5"),
        ("HP", "F#4 C#5"),
        ("Hp", "F#4 C#5"),
        ("C ^f ^c", "F#4 C#5"),
    ],
)
def test_explicit_accidentals_and_the_highland_key(text: str, sounding: str) -> None:
    assert names("F c|", f"M:4/4\nL:1/8\nK:{text}") == sounding


def test_clefs_with_an_eight_octave_and_transpose_parameters() -> None:
    """Section 4.6."""
    assert names("A|", "M:4/4\nL:1/8\nK:C clef=treble-8") == "A3"
    assert names("A|", "M:4/4\nL:1/8\nK:C treble+8") == "A5"
    assert names("A|", "M:4/4\nL:1/8\nK:C octave=-1") == "A3"
    assert names("A|", "M:4/4\nL:1/8\nK:C transpose=2") == "B4"
    assert read("A|", "M:4/4\nL:1/8\nK:Am clef=bass").key.clef == "bass"


@pytest.mark.parametrize(
    ("text", "beats", "unit", "symbol"),
    [
        ("6/8", (6,), 8, None),
        ("C", (4,), 4, "C"),
        ("C|", (2,), 2, "C|"),
        ("(2+3+2)/8", (2, 3, 2), 8, None),
        ("2+3/8", (2, 3), 8, None),
        ("none", (), 4, None),
    ],
)
def test_metres_of_section_3_1_6(
    text: str, beats: tuple[int, ...], unit: int, symbol: str | None
) -> None:
    assert read("A|", f"M:{text}\nL:1/8\nK:C").meter == Meter(beats, unit, symbol)


@pytest.mark.parametrize(
    ("metre", "unit"),
    [("M:2/4\n", "1/16"), ("M:6/8\n", "1/8"), ("M:4/4\n", "1/8"), ("M:3/4\n", "1/8"), ("", "1/8")],
)
def test_unit_length_follows_from_the_metre(metre: str, unit: str) -> None:
    """Section 3.1.7: a sixteenth below 0.75."""
    assert read("A|", f"{metre}K:C").unit_length == 4 * Fraction(unit)


@pytest.mark.parametrize(
    ("text", "beat", "bpm", "words"),
    [
        ("1/4=120", "1/4", 120, ""),
        ("3/8=80", "3/8", 80, ""),
        ('"Allegro" 1/4=120', "1/4", 120, "Allegro"),
        ('1/2=96 "Lively"', "1/2", 96, "Lively"),
        ('"Andante"', "1/4", None, "Andante"),
        ("120", "1/8", 120, ""),
        ("C=100", "1/8", 100, ""),
        ("C3=40", "3/8", 40, ""),
        ("1/4 3/8 1/4 3/8=40", "5/4", 40, ""),
    ],
)
def test_tempo_in_all_forms_of_section_3_1_8(
    text: str, beat: str, bpm: int | None, words: str
) -> None:
    tempo = read("A|", f"M:4/4\nL:1/8\nQ:{text}\nK:C").tempo
    assert tempo is not None
    assert (tempo.beat, tempo.bpm, tempo.text) == (4 * Fraction(beat), bpm, words)


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("AABB", "AABB"),
        ("A2B", "AAB"),
        ("(AB)3", "ABABAB"),
        ("A(AB)2C", "AABABC"),
        ("((AB)3.(CD)3)2", "ABABABCDCDCD" * 2),
        ("A B A", "ABA"),
    ],
)
def test_part_order_of_section_3_1_9(text: str, order: str) -> None:
    tune = read("P:A\nA8|\nP:B\nB8|\nP:C\nc8|\nP:D\nd8|", f"P:{text}\nM:4/4\nL:1/8\nK:C")
    assert "".join(tune.part_order) == order
    assert [bar.part for bar in tune.bars] == ["A", "B", "C", "D"]


def test_every_information_field_is_kept_in_order() -> None:
    codes = "ABCDFGHNOrSZ".replace("r", "")
    header = "\n".join(f"{code}:text of {code}" for code in codes)
    tune = read("A8|\nW:sung after", f"{header}\nR:Jig\nM:4/4\nL:1/8\nK:C")
    kept = "".join(f.code for f in tune.fields if f.code in codes + "RW")
    assert kept == codes + "RW"
    assert tune.field_texts("S") == ("text of S",)
    assert tune.type == "jig"


def test_a_field_goes_on_with_plus_colon() -> None:
    """Section 3.3."""
    tune = read("A8|", "H:One\n+:two\nM:4/4\nL:1/8\nK:C")
    assert tune.field_texts("H") == ("One two",)


def test_file_header_is_the_default_for_all_tunes() -> None:
    """Section 2.2.2."""
    text = "M:6/8\nO:Nowhere\n\nX:1\nT:a\nL:1/8\nK:G\nA3|\n\nX:2\nT:b\nM:C\nK:D\nA3|\n"
    one, two = read_abc(text)
    assert isinstance(one, Tune) and isinstance(two, Tune)
    assert (one.meter.name, two.meter.symbol) == ("6/8", "C")
    assert two.field_texts("O") == ("Nowhere",)


def test_fields_after_the_key_and_before_the_music_belong_to_the_header() -> None:
    tune = read("L:1/4\nM:3/4\nQ:1/4=80\nA B c|", "K:C")
    assert (tune.unit_length, tune.meter.name) == (1, "3/4")
    assert tune.tempo is not None and tune.tempo.bpm == 80
    assert not any(isinstance(e, Change) for e in tune.bars[0].events)


def test_changes_in_the_body_and_inline() -> None:
    tune = read("A8|\nK:D\nF8|[M:3/4]F6|F2 [K:G] c2 [L:1/4] c [Q:1/4=90]|")
    assert [n.pitch.name for n in tune.voices[0].notes] == ["A4", "F#4", "F#4", "F#4", "C5", "C5"]
    assert [n.length for n in tune.voices[0].notes][-1] == 1
    changes = [e for bar in tune.bars for e in bar.events if isinstance(e, Change)]
    assert [bool(c.key) for c in changes] == [True, False, True, False]
    assert tune.bars[2].meter.name == "3/4"
    assert changes[-1].tempo is not None and changes[-1].tempo.bpm == 90


@pytest.mark.parametrize(
    ("text", "closing", "close", "open_"),
    [
        ("A8|B8", BarLine.SINGLE, 0, False),
        ("A8||B8", BarLine.DOUBLE, 0, False),
        ("A8|]B8", BarLine.FINAL, 0, False),
        ("A8[|B8", BarLine.OPENING, 0, False),
        ("A8.|B8", BarLine.DOTTED, 0, False),
        ("A8[|]B8", BarLine.INVISIBLE, 0, False),
        ("A8:|B8", BarLine.SINGLE, 2, False),
        ("A8::|B8", BarLine.SINGLE, 3, False),
        ("A8|:B8:|", BarLine.SINGLE, 0, True),
        ("A8::B8:|", BarLine.SINGLE, 2, True),
        ("A8:|:B8:|", BarLine.SINGLE, 2, True),
        ("A8:||:B8:|", BarLine.DOUBLE, 2, True),
        ("A8:|\n|:B8:|", BarLine.SINGLE, 2, True),
        ("A8:|]B8", BarLine.FINAL, 2, False),
        ("A8||:B8:|", BarLine.DOUBLE, 0, True),
    ],
)
def test_bar_lines_of_section_4_8(text: str, closing: BarLine, close: int, open_: bool) -> None:
    bars = read(text + "|").bars
    assert len(bars) == 2
    assert (bars[0].closing, bars[0].repeat_close, bars[1].repeat_open) == (closing, close, open_)


@pytest.mark.parametrize(
    "text",
    [
        "|:A8|1 B8:|2 c8|]",
        "|:A8|[1 B8:|[2 c8|]",
        "|:A8[1 B8:|[2 c8|]",
        "|:A8|1B8:|2c8|]",
        "|: A8 | 1 B8 :| 2 c8 |]",
        "|:A8\n|1 B8:|\\\n|2 c8|]",
        '|:A8|["1st time" B8:|["2nd time" c8|]',
    ],
)
def test_variant_endings_written_any_legal_way(text: str) -> None:
    """Section 4.9."""
    bars = read(text).bars
    assert [bar.ending for bar in bars] == [(), (1,), (2,)]
    assert [bar.ending_last for bar in bars] == [False, True, True]
    assert [bar.repeat_close for bar in bars] == [0, 2, 0]


def test_endings_for_several_passes_of_section_4_10() -> None:
    bars = read("|:A8|[1,3 B8:|[2,4-6 c8:|[7 d8|]").bars
    assert [bar.ending for bar in bars] == [(), (1, 3), (2, 4, 5, 6), (7,)]


def test_ties_slurs_and_the_old_tie_before_a_decoration() -> None:
    """Section 4.11."""
    first, second, third = notes("C4-~C4|(C8|")
    assert first.tied and not second.tied
    assert second.decorations == ("roll",)
    assert third.slurs_open == 1
    opened = notes("(A(Bc)d) A-|A|")
    assert [(n.slurs_open, n.slurs_close) for n in opened[:4]] == [(1, 0), (1, 0), (0, 1), (0, 1)]
    assert opened[4].tied


def test_chords_of_section_4_17() -> None:
    one, two, three = notes("[CEG]2 [C-E]2 [C3/2E]|")
    assert [p.name for p in one.pitches] == ["C4", "E4", "G4"] and one.length == 1
    assert one.pitch.name == "G4"
    assert two.ties == (True, False)
    assert three.length == Fraction(3, 4)


def test_rests_of_section_4_5() -> None:
    tune = read("z2 x2 z4|Z|X2|A8|")
    rests = [e for bar in tune.bars for e in bar.events]
    assert all(isinstance(e, Rest) for e in rests[:6])
    assert [(e.visible, e.whole_bar) for e in rests if isinstance(e, Rest)] == [
        (True, False), (False, False), (True, False), (True, True), (False, True), (False, True)
    ]  # fmt: skip
    assert [bar.length for bar in tune.bars] == [4, 4, 4, 4, 4]


def test_grace_notes_of_section_4_12() -> None:
    first, second = notes("{gab}A4 {/^g2}A4|")
    assert [g.pitch.name for g in first.graces] == ["G5", "A5", "B5"]
    assert [g.id for g in first.graces] == ["n1g1", "n1g2", "n1g3"]
    assert second.slashed and second.graces[0].pitch.name == "G#5"
    assert read("{gab}A8|").bars[0].length == 4


def test_decorations_of_section_4_14() -> None:
    short = notes(".A ~A HA LA MA OA PA SA TA uA vA|")
    names_ = [n.decorations for n in short]
    assert names_[:5] == [("staccato",), ("roll",), ("fermata",), ("accent",), ("lowermordent",)]
    assert names_[6] == ("uppermordent",)
    assert names_[8:] == [("trill",), ("upbow",), ("downbow",)]
    bar = read("OA SA|").bars[0]
    assert bar.marks == ("segno", "coda")
    assert [n.decorations for n in notes("!trill!A +fermata+A !>!A|")] == [
        ("trill",), ("fermata",), ("accent",)
    ]  # fmt: skip


def test_user_symbols_of_section_4_16() -> None:
    header = 'M:4/4\nL:1/8\nU:W = !trill!\nU:u = "^up"\nU:T = !nil!\nK:C'
    first, second, third = notes("WA uA TA|", header)
    assert first.decorations == ("trill",)
    assert second.annotations == (Annotation("above", "up"),)
    assert third.decorations == ()


def test_chord_symbols_and_annotations_of_sections_4_18_and_4_19() -> None:
    first, second, third = notes('"Am7"A "^above"A "@3,4 free""_below""G/B"A|')
    assert first.chord_symbol == "Am7"
    assert second.annotations == (Annotation("above", "above"),)
    assert third.chord_symbol == "G/B"
    assert third.annotations == (Annotation("auto", "free"), Annotation("below", "below"))


def test_lyrics_of_section_5_1() -> None:
    verses = [n.lyrics[0] if n.lyrics else None for n in notes(
        "C D E F|G G A2|\nw: syll-a-ble is|time__ of~the co\\-op"
    )]  # fmt: skip
    assert verses == [
        Lyric("syll", hyphen=True),
        Lyric("a", hyphen=True),
        Lyric("ble"),
        Lyric("is"),
        Lyric("time", extends=True),
        None,
        None,
    ]
    (note,) = notes("C8|\nw:of~the co\\-op")
    assert note.lyrics == (Lyric("of the"),)


def test_lyrics_go_on_where_the_last_ones_ended() -> None:
    """Section 5.1: both ways of writing are the same."""
    one = notes("C D E F|\nw:doh re mi fa\nG A B c|\nw:sol la ti doh")
    two = notes("C D E F|\nG A B c|\nw:doh re mi fa sol la ti doh")
    assert [n.lyrics for n in one] == [n.lyrics for n in two]
    assert all(n.lyrics for n in one)


def test_verses_of_section_5_2() -> None:
    (note, _) = notes("C4 D4|\nw:one *\nw:two *")
    assert note.lyrics == (Lyric("one"), Lyric("two"))


def test_voices_of_section_7() -> None:
    tune = read(
        "V:1\nA8|B8|\nV:2\nC8|D8|\n[V:1]c8|[V:2]E8|",
        'M:4/4\nL:1/8\nV:1 name="Fiddle"\nV:2 clef=bass\nK:C',
    )
    assert [v.name for v in tune.voices] == ["1", "2"]
    assert tune.voices[0].title == "Fiddle"
    assert [n.pitch.name for n in tune.voices[0].notes] == ["A4", "B4", "C5"]
    assert [n.id for n in tune.voices[1].notes] == ["v2n1", "v2n2", "v2n3"]
    assert tune.voices[1].bars[0].key.clef == "bass"
    assert any("voices" in p.message for p in tune.problems)


def test_overlays_of_section_7_4() -> None:
    bar = read("A4 B4 & C8|").bars[0]
    assert bar.length == 4
    ((overlaid,),) = bar.overlays
    assert isinstance(overlaid, Note) and overlaid.pitch.name == "C4"


def test_continuations_comments_and_stylesheet_lines() -> None:
    """Sections 2.2.5, 2.2.6 and 11."""
    tune = read("AB cd \\\n% a comment\n%%staffwidth 17cm\nefga|% the end\nB8|")
    assert len(tune.bars) == 2
    assert [bar.line_end for bar in tune.bars] == [True, True]
    assert not tune.problems


def test_macros_of_section_9() -> None:
    found = notes("~G3 A3 ~G2|", "M:4/4\nL:1/8\nm:~G3 = G{A}G{F}G\nK:C")
    assert [n.pitch.name for n in found] == ["G4", "G4", "G4", "A4", "G4"]
    assert [len(n.graces) for n in found] == [0, 1, 1, 0, 0]


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        (r"Caf\'e", "Café"),
        (r"\"Uber", "Über"),
        ("S&eacute;amus", "Séamus"),
        (r"Du\u0161an", "Dušan"),
        (r"\ss \aa \ae \/o \cc \~n \vs", "ß å æ ø ç ñ š"),
        ("&copy; 1900", "© 1900"),
        (r"100\% \\ \&", r"100% \ &"),
    ],
)
def test_accents_of_section_8_2(written: str, meant: str) -> None:
    assert read("A8|", f"C:{written}\nM:4/4\nL:1/8\nK:C").field_texts("C") == (meant,)


@pytest.mark.parametrize("end", ["\r\n", "\r", "\n"])
def test_line_ends_of_any_system_and_a_byte_order_mark(end: str) -> None:
    text = "\ufeff" + end.join(["X:1", "T:One", "K:G", "A8|", "", "X:2", "T:Two", "K:D", "d8|", ""])
    tunes = read_abc(text)
    assert [t.title for t in tunes if isinstance(t, Tune)] == ["One", "Two"]


def test_every_note_knows_its_line_and_column() -> None:
    places = [tuple(n.place) for n in notes("AB ^c2|\n{g}d [eg]|")]
    assert places == [(6, 1), (6, 2), (6, 4), (7, 4), (7, 6)]


def test_beams_follow_the_spaces_of_section_4_7() -> None:
    assert [n.beamed for n in notes("AB c2 dz e`f|")] == [
        True, False, False, False, True, False
    ]  # fmt: skip


def test_refused_and_read_tunes_come_in_the_order_of_the_book() -> None:
    kinds = [type(t) for t in read_abc("X:1\nK:G\nA|\n\nX:2\nK:G\n[CE|\n\nX:3\nK:G\nA|\n")]
    assert kinds == [Tune, Refused, Tune]
