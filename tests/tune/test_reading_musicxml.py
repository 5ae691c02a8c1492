"""MusicXML comes in whole, from other programs' files too, and bad files are refused clearly."""

import contextlib
import io
import random
import zipfile
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.errors import ReedwrightError
from reedwright.tune.abc import read_abc
from reedwright.tune.model import BarLine, Lyric, Tempo, Tune, Tuplet
from reedwright.tune.musicxml import write_musicxml
from reedwright.tune.musicxml_in import BadMusicXml, opening, read_musicxml, read_musicxml_text
from reedwright.tune.rights import rights_line
from reedwright.tune.unfold import unfold

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"

# Written by hand after the W3C's MusicXML 4.0.
SCORE = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"
  "http://www.musicxml.org/dtds/partwise.dtd">
<score-partwise version="4.0">
<work><work-number>7</work-number><work-title>A Test</work-title></work>
<identification><creator type="composer">Nobody</creator>
<creator type="lyricist">Somebody</creator><rights>CC0 1.0</rights></identification>
<part-list><score-part id="P1"><part-name>Fiddle</part-name></score-part></part-list>
<part id="P1">
<measure number="0" implicit="yes">
 <attributes><divisions>12</divisions><key><fifths>2</fifths><mode>dorian</mode></key>
 <time symbol="cut"><beats>2</beats><beat-type>2</beat-type></time>
 <clef><sign>G</sign><line>2</line></clef></attributes>
 <direction><direction-type><metronome><beat-unit>half</beat-unit><per-minute>96</per-minute>
 </metronome></direction-type><sound tempo="192"/></direction>
 <note><pitch><step>E</step><octave>4</octave></pitch><duration>12</duration><voice>1</voice>
 <type>quarter</type><lyric number="1"><syllabic>begin</syllabic><text>la</text></lyric></note>
</measure>
<measure number="1"><barline location="left"><repeat direction="forward"/></barline>
 <direction><direction-type><rehearsal>A</rehearsal></direction-type></direction>
 <harmony><root><root-step>F</root-step><root-alter>1</root-alter></root>
 <kind>minor-seventh</kind><bass><bass-step>A</bass-step></bass></harmony>
 <direction placement="below"><direction-type><words>gently</words></direction-type></direction>
 <note><grace slash="yes"/><pitch><step>F</step><alter>1</alter><octave>4</octave></pitch>
 <voice>1</voice><type>16th</type></note>
 <note><pitch><step>E</step><octave>4</octave></pitch><duration>8</duration><voice>1</voice>
 <type>quarter</type><time-modification><actual-notes>3</actual-notes>
 <normal-notes>2</normal-notes></time-modification><notations><slur type="start"/>
 <articulations><staccato/></articulations><ornaments><trill-mark/></ornaments></notations></note>
 <note><chord/><pitch><step>G</step><octave>4</octave></pitch><duration>8</duration>
 <voice>1</voice><type>quarter</type></note>
 <note><pitch><step>E</step><octave>4</octave></pitch><duration>8</duration><voice>1</voice>
 <type>quarter</type><time-modification><actual-notes>3</actual-notes>
 <normal-notes>2</normal-notes></time-modification></note>
 <note><pitch><step>D</step><octave>4</octave></pitch><duration>8</duration><voice>1</voice>
 <type>quarter</type><time-modification><actual-notes>3</actual-notes>
 <normal-notes>2</normal-notes></time-modification><notations><slur type="stop"/></notations></note>
 <note><pitch><step>E</step><octave>4</octave></pitch><duration>24</duration><tie type="start"/>
 <voice>1</voice><type>half</type><notations><tied type="start"/><fermata/></notations></note>
</measure>
<measure number="2"><barline location="left"><ending number="1, 2" type="start"/></barline>
 <note><pitch><step>E</step><octave>4</octave></pitch><duration>48</duration><tie type="stop"/>
 <voice>1</voice><type>whole</type></note>
 <barline location="right"><bar-style>light-heavy</bar-style><ending number="1, 2" type="stop"/>
 <repeat direction="backward" times="3"/></barline></measure>
<measure number="3"><barline location="left"><ending number="3" type="start"/></barline>
 <note><rest/><duration>24</duration><voice>1</voice></note>
 <note><pitch><step>B</step><alter>-1</alter><octave>3</octave></pitch><duration>24</duration>
 <voice>1</voice><accidental>flat</accidental></note>
 <direction><direction-type><words>D.C. al Fine</words></direction-type></direction>
 <barline location="right"><bar-style>light-heavy</bar-style>
 <ending number="3" type="discontinue"/></barline></measure>
</part></score-partwise>
"""


def test_header_and_signs_are_kept() -> None:
    tune = read_musicxml_text(SCORE)
    assert (tune.title, tune.number) == ("A Test", "7")
    assert tune.field_texts("C") == ("Nobody",)
    assert tune.field_texts("N") == ("Lyricist: Somebody",)
    assert rights_line(tune) == "CC0 1.0"
    assert tune.key.name == "E dorian"
    assert not tune.key.estimated
    assert (tune.meter.name, tune.meter.symbol) == ("2/2", "C|")
    assert tune.tempo == Tempo(Fraction(2), Fraction(96))
    assert tune.voices[0].title == "Fiddle"


def test_notes_are_kept_with_all_that_hangs_on_them() -> None:
    anacrusis, first, second, third = read_musicxml_text(SCORE).bars
    assert anacrusis.number == 0
    assert anacrusis.notes[0].lyrics == (Lyric("la", hyphen=True),)
    chord, middle, last, long = first.notes
    assert [p.name for p in chord.pitches] == ["E4", "G4"]
    assert [g.pitch.name for g in chord.graces] == ["F#4"]
    assert chord.slashed
    assert chord.decorations == ("staccato", "trill")
    assert chord.chord_symbol == "F#m7/A"
    assert [tuple(a) for a in chord.annotations] == [("below", "gently")]
    assert (chord.slurs_open, last.slurs_close) == (1, 1)
    assert chord.length == Fraction(2, 3)
    assert chord.tuplet == Tuplet(3, 2, True, False)  # no bracket in the file: found by filling
    assert middle.tuplet == Tuplet(3, 2, False, False)
    assert last.tuplet == Tuplet(3, 2, False, True)
    assert (long.ties, long.decorations) == ((True,), ("fermata",))
    assert first.part == "A"
    assert first.repeat_open
    assert (second.ending, second.ending_last, second.repeat_close) == ((1, 2), True, 3)
    assert (third.ending, third.closing, third.marks) == ((3,), BarLine.FINAL, ("dacapo",))
    assert third.notes[0].pitch.name == "Bb3"
    assert third.notes[0].explicit
    assert (
        chord.place.line
        == SCORE[: SCORE.index("<note><pitch><step>E</step>", 1500)].count("\n") + 1
    )


def test_a_compressed_and_a_timewise_file_read_the_same(tmp_path: Path) -> None:
    plain = read_musicxml_text(SCORE)
    compressed = tmp_path / "a.mxl"
    container = '<container><rootfiles><rootfile full-path="s/x.xml"/></rootfiles></container>'
    with zipfile.ZipFile(compressed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", container)
        archive.writestr("s/x.xml", SCORE)
    assert read_musicxml(compressed).voices == plain.voices
    body = SCORE[SCORE.index('<part id="P1">') + len('<part id="P1">') : SCORE.index("</part></s")]
    head = SCORE[: SCORE.index('<part id="P1">')]
    timewise = (
        (head + body + "</score-timewise>")
        .replace("score-partwise", "score-timewise")
        .replace("</measure>", "</part></measure>")
    )
    for start in ('implicit="yes">', '<measure number="1">', '<measure number="2">'):
        timewise = timewise.replace(start, start + '<part id="P1">')
    timewise = timewise.replace('<measure number="3">', '<measure number="3"><part id="P1">')
    again = read_musicxml_text(timewise)
    assert unfold(again).sounding and [n.pitch for n in unfold(again).sounding] == [
        n.pitch for n in unfold(plain).sounding
    ]


def test_a_signature_without_a_mode_is_called_an_estimate() -> None:
    tune = read_musicxml_text(SCORE.replace("<mode>dorian</mode>", ""))
    assert tune.key.estimated
    assert tune.key.fifths == 2
    assert any("names no mode" in problem.message for problem in tune.problems)


def test_a_transposing_instrument_is_read_as_it_sounds() -> None:
    transposing = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    tune = read_musicxml_text(SCORE.replace("</clef>", "</clef>" + transposing))
    assert tune.key.name == "D dorian"
    assert tune.bars[0].notes[0].pitch.name == "D4"


def test_our_own_writing_reads_back_the_same() -> None:
    for tune in read_abc(EXAMPLES.read_text(encoding="utf-8")):
        assert isinstance(tune, Tune)
        again = read_musicxml_text(write_musicxml(tune))
        written = [(n.pitches, n.length, n.ties) for n in tune.voices[0].notes]
        assert [(n.pitches, n.length, n.ties) for n in again.voices[0].notes] == written
        graces = [[g.pitch for g in n.graces] for n in tune.voices[0].notes]
        assert [[g.pitch for g in n.graces] for n in again.voices[0].notes] == graces
        assert (again.key, again.meter, again.type) == (tune.key, tune.meter, tune.type)
        assert rights_line(again) == rights_line(tune)
        assert again.part_order == tune.part_order
        sounding = [(s.pitch, s.onset, s.length) for s in unfold(tune).sounding]
        assert [(s.pitch, s.onset, s.length) for s in unfold(again).sounding] == sounding


@pytest.mark.parametrize(
    "name", ["bach/bwv66.6", "leadSheet/fosterBrownHair", "corelli/opus3no1/1grave"]
)
def test_music21_corpus_files_hold_the_notes_that_music21_reads(name: str) -> None:
    # Outside reader: music21's own MusicXML importer.
    from music21 import corpus

    path = Path(str(corpus.getWork(name)))
    assert path.suffix in (".mxl", ".xml", ".musicxml"), "choose another file of the corpus"
    part = corpus.parse(name).parts[0].toSoundingPitch(inPlace=False)
    theirs = [
        (float(n.getOffsetInHierarchy(part)), pitch.midi, float(n.quarterLength))
        for n in part.recurse().notes
        if not n.duration.isGrace and n.__class__.__name__ in ("Note", "Chord")
        for pitch in n.pitches
    ]
    tune = read_musicxml(path)
    ours: list[tuple[float, int, float]] = []
    now = Fraction(0)
    for bar in tune.bars:
        offset = now
        for layer in (bar.events, *bar.overlays):
            offset = now
            for event in layer:
                for pitch in getattr(event, "pitches", ()):
                    ours.append((float(offset), pitch.midi, float(event.length)))
                offset += getattr(event, "length", Fraction(0))
        now += bar.length
    assert len(ours) == len(theirs)
    for mine, other in zip(sorted(ours), sorted(theirs), strict=True):
        assert mine == pytest.approx(other, abs=1e-3)


def test_a_file_that_music21_wrote_reads_back(tmp_path: Path) -> None:
    # Outside writer: music21.
    from music21 import converter, meter, note, stream, tempo, tie

    part = stream.Part()
    part.append([meter.TimeSignature("6/8"), tempo.MetronomeMark(number=90)])
    for midi, length in [(62, 0.5), (64, 1.5), (66, 1.5), (67, 1 / 3), (69, 1 / 3), (71, 1 / 3)]:
        part.append(note.Note(midi, quarterLength=length))
    part.notes[1].tie = tie.Tie("start")
    path = tmp_path / "m.musicxml"
    part.write("musicxml", fp=str(path))
    assert converter.parse(str(path)) is not None
    sounding = unfold(read_musicxml(path)).sounding
    assert [n.pitch.midi for n in sounding] == [62, 64, 66, 67, 69, 71]
    assert sounding[-1].length == Fraction(1, 3)


BOMB = "<!DOCTYPE x [<!ENTITY a '" + "x" * 100 + "'><!ENTITY b '&a;&a;&a;'>]>"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("<score-partwise><part>", "not well-formed"),
        ("<html/>", "not MusicXML"),
        ("<score-partwise/>", "no notes"),
        (BOMB + "<score-partwise>&b;</score-partwise>", "entities"),
        ("<score-partwise>&nope;</score-partwise>", "not well-formed"),
        ("<a>" * 5000 + "</a>" * 5000, "deep"),
        (SCORE.replace('encoding="UTF-8"', 'encoding="klingon"'), "not well-formed"),
    ],
)
def test_bad_documents_are_refused_with_a_reason(text: str, says: str) -> None:
    with pytest.raises(BadMusicXml, match=says):
        read_musicxml_text(text)


def test_archives_that_unpack_to_too_much_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(opening, "MAX_BYTES", 1_000_000)
    path = tmp_path / "bomb.mxl"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("x.xml", b" " * 50_000_000)
    assert path.stat().st_size < 1_000_000
    with pytest.raises(BadMusicXml, match="unpacks to more"):
        read_musicxml(path)


def _archive() -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("x.musicxml", SCORE)
    return held.getvalue()


def test_damaged_archives_and_documents_never_crash(tmp_path: Path) -> None:
    chance = random.Random(20)
    path = tmp_path / "damaged.mxl"
    for whole in (_archive(), SCORE.encode()):
        for _ in range(150):
            data = bytearray(whole)
            if chance.random() < 0.3:
                del data[chance.randrange(len(data)) :]
            for _ in range(chance.randrange(6)):
                if data:
                    data[chance.randrange(len(data))] = chance.randrange(256)
            path.write_bytes(bytes(data))
            try:
                unfold(read_musicxml(path))
            except ReedwrightError as error:
                assert str(path) in str(error)


_WORDS = st.sampled_from(
    ["", "0", "-1", "1", "3", "999999999999", "1e9", "nan", "x", "1/0", "é", "12"]
)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_senseless_values_are_read_or_refused(data: st.DataObject) -> None:
    text = SCORE
    for tag in ("divisions", "fifths", "beats", "beat-type", "octave", "duration", "alter"):
        if data.draw(st.booleans()):
            value = data.draw(_WORDS)
            head, _, rest = text.partition(f"<{tag}>")
            _, _, tail = rest.partition(f"</{tag}>")
            text = f"{head}<{tag}>{value}</{tag}>{tail}"
    with contextlib.suppress(ReedwrightError):
        unfold(read_musicxml_text(text))


def _two_voices(second_in_bars: int) -> str:
    """Six bars of a voice, and a second one below it in the first so many of them."""

    def note(step: str, voice: int, duration: int) -> str:
        return (
            f"<note><pitch><step>{step}</step><octave>4</octave></pitch>"
            f"<duration>{duration}</duration><voice>{voice}</voice></note>"
        )

    bars = ""
    for number in range(1, 7):
        bars += f'<measure number="{number}">'
        if number == 1:
            bars += "<attributes><divisions>1</divisions></attributes>"
        bars += note("G", 1, 2) + note("A", 1, 2)
        if number <= second_in_bars:
            bars += "<backup><duration>4</duration></backup>" + note("C", 2, 4)
        bars += "</measure>"
    return f'<score-partwise><part id="P1">{bars}</part></score-partwise>'


def test_a_second_voice_is_a_voice_and_one_that_seldom_sounds_is_laid_over() -> None:
    tune = read_musicxml_text(_two_voices(second_in_bars=6))
    assert [voice.name for voice in tune.voices] == ["1", "2"]
    assert [note.pitch.name for note in tune.voices[1].notes] == ["C4"] * 6
    assert any("2 voices" in problem.message for problem in tune.problems)
    laid_over = read_musicxml_text(_two_voices(second_in_bars=2))
    assert len(laid_over.voices) == 1
    sounding = [(s.pitch.name, s.onset, s.length) for s in unfold(laid_over).sounding][:3]
    assert sounding == [("C4", 0, 4), ("G4", 0, 2), ("A4", 2, 2)]
    assert unfold(laid_over).length == 24


def test_a_kept_part_order_plays_the_parts_that_rehearsal_marks_label() -> None:
    def measure(number: int, label: str, step: str) -> str:
        return (
            f'<measure number="{number}"><direction><direction-type><rehearsal>{label}</rehearsal>'
            f"</direction-type></direction><note><pitch><step>{step}</step><octave>4</octave>"
            "</pitch><duration>4</duration></note></measure>"
        )

    kept = '<miscellaneous><miscellaneous-field name="parts">A2B</miscellaneous-field>'
    text = (
        f"<score-partwise><identification>{kept}</miscellaneous></identification>"
        f'<part id="P1">{measure(1, "A", "C")}{measure(2, "B", "D")}</part></score-partwise>'
    )
    tune = read_musicxml_text(text)
    assert tune.part_order == ("A", "A", "B")
    assert [n.note.pitch.step for n in unfold(tune).notes] == ["C", "C", "D"]
