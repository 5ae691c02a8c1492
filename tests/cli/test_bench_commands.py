"""`reedwright bench` as a user meets it: from plan to paper, from a recording to a history."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from made_reeds import RATE, MadeReed, laid
from pypdf import PdfReader
from soundfont_takes import write_wav

from reedwright.cli.main import main
from reedwright.harp.making import parse_harp
from reedwright.harp.model import Breath, Reed
from reedwright.harp.naming import frequency

TUNES = str(Path(__file__).parents[2] / "examples" / "tunes.abc")
OFF = {Reed(1, Breath.BLOW): -12.0, Reed(4, Breath.DRAW): 9.0}  # cents


@pytest.fixture(autouse=True)
def _own_bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("REEDWRIGHT_BENCH", str(tmp_path / "bench"))


@pytest.fixture(scope="module")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The reeds of a G harp, hole by hole, blow then draw: two of them off, and all right."""
    folder = tmp_path_factory.mktemp("reeds")
    return {name: _recorded(folder / f"{name}.wav", off) for name, off in _TAKES.items()}


_TAKES: dict[str, dict[Reed, float]] = {"off": OFF, "right": {}}


def _recorded(path: Path, off: dict[Reed, float]) -> Path:
    harp = parse_harp("G")
    row = [Reed(hole, breath) for hole in range(1, 7) for breath in Breath]
    reeds = [
        (0.4 + 0.9 * k, MadeReed(frequency(harp.reed_midi(*reed) + off.get(reed, 0.0) / 100), 0.6))
        for k, reed in enumerate(row)
    ]
    sound = laid(reeds, 0.9 * len(row) + 0.8)
    return write_wav(path, np.asarray(sound, np.float32), RATE)


def _out(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["bench", *words]) == 0
    return capsys.readouterr().out


def _json(capsys: pytest.CaptureFixture[str], *words: str) -> object:
    return json.loads(_out(capsys, *words, "--json"))


def test_raised_3_blow_is_one_reed_a_whole_tone_up(capsys: pytest.CaptureFixture[str]) -> None:
    """The conversion that the issue names; common practice of the trade."""
    plan = _json(capsys, "plan", "G:richter-raised-3-blow")
    assert isinstance(plan, dict)
    (work,) = plan["works"]
    assert (work["hole"], work["breath"], work["work"]) == (3, "blow", "raise")
    assert work["cents"] == pytest.approx(200.0, abs=0.01)
    assert "3 blow" in _out(capsys, "plan", "G:richter-raised-3-blow")


def test_several_harps_make_one_list_of_shopping_and_work(
    capsys: pytest.CaptureFixture[str],
) -> None:
    said = _out(capsys, "plan", "G:natural-minor", "D:richter-raised-3-blow")
    assert "C harp" in said and "D harp" in said
    listed = _json(capsys, "plan", "G:natural-minor", "D:richter-raised-3-blow")
    assert isinstance(listed, dict)
    assert sum(each["number"] for each in listed["shopping"]) == 2


def test_stock_harps_are_ranked(capsys: pytest.CaptureFixture[str]) -> None:
    ranked = _json(capsys, "plan", "G:natural-minor", "--ranked", "--stock", "A, C, G")
    assert isinstance(ranked, list)
    assert ranked[0]["stock"]["key"] == "C" and len(ranked) == 3


def test_targets_are_told_at_the_bench_and_as_played(capsys: pytest.CaptureFixture[str]) -> None:
    """C harp, 1 blow: middle C is 261.63 Hz at A 440 (CRC Handbook); 442 and 4 cents above."""
    found = _json(capsys, "targets", "C", "--a4", "442", "--pressure", "4")
    assert isinstance(found, dict)
    first = found["reeds"][0]
    assert first["hz"] == pytest.approx(261.6256 * 442 / 440, abs=1e-3)
    assert first["bench_hz"] == pytest.approx(first["hz"] * 2 ** (4 / 1200), abs=1e-3)
    assert "chords-seven" in _out(capsys, "targets")


def test_a_pair_is_set_to_beat_as_wished(capsys: pytest.CaptureFixture[str]) -> None:
    said = _out(capsys, "beats", "C", "--pair", "blow 1 4", "--rate", "0.5")
    assert "523.75 Hz" in said  # twice middle C's 261.626, and half a beat
    assert "523.75" not in _out(capsys, "beats", "C", "--pair", "blow 1 4")
    moved = _out(capsys, "beats", "C", "--pair", "blow 1 4", "--rate", "0.5", "--move", "1 blow")
    assert "261.88 Hz" in moved  # half of 523.25 and half a beat


def test_valves_are_planned_and_drawn(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet, form = tmp_path / "cut.pdf", tmp_path / "sizes.toml"
    said = _out(capsys, "valves", "G", "--sheet", str(sheet))
    assert "10 valves" in said and "100 %" in said
    assert "draw 6" in "".join(page.extract_text() for page in PdfReader(sheet).pages)
    _out(capsys, "valves", "G", "--form", str(form))
    filled = form.read_text().replace("# 1 = ", "1 = ", 1)
    form.write_text(filled)
    assert "measured" in _out(capsys, "valves", "G", "--valves", "draw 1", "--sizes", str(form))
    assert main(["bench", "valves", "G", "--form", str(form)]) == 1
    assert "there already" in capsys.readouterr().err
    assert form.read_text() == filled


def test_a_recording_becomes_a_measurement_and_a_history(
    recordings: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    keep = ("--keep", "the red G")
    first = _json(
        capsys, "measure", str(recordings["off"]), "--harp", "G", *keep, "--when", "before"
    )
    assert isinstance(first, dict)
    cents = {(each["hole"], each["breath"]): each["cents"] for each in first["reeds"]}
    assert len(cents) == 12
    for (hole, breath), heard in cents.items():
        assert heard == pytest.approx(OFF.get(Reed(hole, Breath(breath)), 0.0), abs=1.0)
    said = _out(capsys, "measure", str(recordings["right"]), *keep, "--when", "after")
    assert "Kept with the red G" in said
    assert "+12" in _out(capsys, "history", "the red G", "--note", "gapped for a light breath")
    assert "gapped" in _out(capsys, "history", "The red G")
    assert "the red G" in _out(capsys, "history")

    sheet = tmp_path / "sheet.pdf"
    _out(capsys, "sheet", "G:natural-minor", "--from-harp", "the red G", "--out", str(sheet))
    text = "".join(page.extract_text() for page in PdfReader(sheet).pages)
    assert "natural minor" in text and "the red G" in text
    assert "196.0" in text  # G3 as it was measured last: nothing is converted yet


def test_a_history_begins_as_the_harp_is_and_not_as_it_is_to_be(
    recordings: dict[str, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    wished = ("--harp", "G", "--tuning", "richter-raised-3-blow", "--now", "G")
    _out(capsys, "measure", str(recordings["right"]), *wished, "--keep", "half done")
    known = _json(capsys, "history", "half done")
    assert isinstance(known, dict)
    assert known["harp"] == "G"


def test_another_harps_reeds_are_not_kept_in_a_history(
    recordings: dict[str, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    _out(capsys, "history", "blue A", "--start", "A")
    take = ["bench", "measure", str(recordings["right"]), "--keep", "blue A"]
    assert main([*take, "--harp", "G"]) == 1
    assert "blue A is an A harp, not a G harp" in capsys.readouterr().err
    assert main(take) == 1  # the reeds of a G harp, against those of an A harp
    told = capsys.readouterr()
    assert "sounds like a G harp" in told.err and "2 blow" in told.out
    assert "Nothing was measured" in _out(capsys, "history", "blue A")
    assert main([*take, "--anyway"]) == 0
    assert "Kept with blue A" in capsys.readouterr().out


def test_a_plan_starts_from_what_was_measured(
    recordings: dict[str, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    main(["bench", "measure", str(recordings["off"]), "--harp", "G", "--keep", "blue"])
    capsys.readouterr()
    plan = _json(capsys, "plan", "G:richter-raised-3-blow", "--from-harp", "blue")
    assert isinstance(plan, dict)
    works = {(each["hole"], each["breath"]): each for each in plan["works"]}
    assert works[3, "blow"]["work"] == "raise"
    assert works[1, "blow"]["cents"] == pytest.approx(12.0, abs=1.0)  # it was 12 flat


def test_paper_is_written_for_one_harp_and_for_several(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one, many = tmp_path / "one.pdf", tmp_path / "many.pdf"
    card, labels = tmp_path / "card.pdf", tmp_path / "labels.pdf"
    _out(capsys, "sheet", "G:richter-raised-3-blow:half", "--out", str(one))
    _out(capsys, "sheet", "G:natural-minor", "D:richter-raised-3-blow", "--out", str(many))
    maker = ("--maker", "Marta Quillon", "--date", "2026-11-28")
    _out(capsys, "card", "G", "--tunes", TUNES, *maker, "--out", str(card))
    _out(capsys, "labels", "G", "D", *maker, "--count", "2", "--out", str(labels))
    text = {path: _text(path) for path in (one, many, card, labels)}
    assert "mask" in text[one] and "329.63" in text[one]  # E4 in equal temperament at A 440
    assert "natural minor" in text[many] and "raised 3 blow" in text[many]
    assert "The Reedmaker's Latch" in text[card].replace("\u2019", "'")
    assert text[labels].count("Marta Quillon") == 4


def _text(path: Path) -> str:
    return " ".join(" ".join(p.extract_text() for p in PdfReader(path).pages).split())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["plan", "H"], "is not a key"),
        (["plan", "G", "D", "--ranked"], "name one"),
        (["plan", "G", "--from-harp", "nobody's"], "no history"),
        (["targets", "C", "--a4", "430"], "438"),
        (["targets", "C", "--temperament", "wild"], "wild"),
        (["beats", "C", "--rate", "1"], "--pair"),
        (["beats", "C", "--pair", "blow 1 11"], "11"),
        (["valves", "G", "--valves", "none"], "no reed is to be valved"),
        (["measure", "no-such.wav", "--harp", "G"], "no-such.wav"),
        (["measure", "no-such.wav"], "--harp"),
        (["history", "the lost D"], "no history"),
        (["history", "--note", "x"], "Say the name"),
        (["sheet", "G", "D", "--targets-only"], "name one"),
        (["sheet", "G", "--targets-only", "--stock", "D"], "leave out the stock"),
        (["sheet", "G", "--sizes", "sizes.toml"], "--valves"),
        (["valves", "G", "--strip-width", "60"], "--sheet"),
    ],
)
def test_what_is_wrong_is_told_in_one_line(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["bench", *words]) == 1
    error = capsys.readouterr().err
    assert said in error and error.startswith("reedwright: ") and error.count("\n") == 1


def test_a_recording_that_fails_begins_no_history(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    silent = write_wav(tmp_path / "silent.wav", np.zeros(RATE, np.float32), RATE)
    assert main(["bench", "measure", str(silent), "--harp", "G", "--keep", "new"]) == 1
    capsys.readouterr()
    assert not list((tmp_path / "bench").glob("*.toml"))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["targets", "C", "--a4", "high"], "'high' is no number such as 2.5"),
        (["labels", "C", "--count", "100000"], "100000 is not from 1 to 500"),
        (["card", "C", "--count", "two"], "two is not from 1 to 500"),
    ],
)
def test_numbers_that_are_none_are_told_in_plain_words(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as left:
        main(["bench", *words])
    assert left.value.code == 2
    assert said in capsys.readouterr().err


def test_a_decimal_comma_is_a_decimal_point(capsys: pytest.CaptureFixture[str]) -> None:
    point = _out(capsys, "targets", "C", "--a4", "440.5", "--pressure", "2.5")
    assert _out(capsys, "targets", "C", "--a4", "440,5", "--pressure", "2,5") == point


def test_a_table_has_no_sign_before_nothing(
    recordings: dict[str, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    """Reeds made at their very targets; `± 0.00` would claim to know for certain."""
    text = _out(capsys, "measure", str(recordings["right"]), "--harp", "G", "--keep", "one")
    text += _out(capsys, "measure", str(recordings["off"]), "--keep", "one")
    text += _out(capsys, "history", "one")
    text += _out(capsys, "history")
    assert " 0.0 ± " in text and "2 entries" in text
    assert not any(wrong in text for wrong in ("-0.0", "+0.0 ", "± 0.00"))


def test_a_history_begun_meanwhile_gets_the_measurement_too(
    recordings: dict[str, Path],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    from reedwright.cli.bench import measure
    from reedwright.workshop.history.keeping import open_history, start_history

    monkeypatch.setattr(measure, "_history", lambda args: start_history("new", "G") and None)
    _out(capsys, "measure", str(recordings["off"]), "--harp", "G", "--keep", "new")
    assert len(open_history("new").entries) == 1


def test_a_plan_from_a_harp_of_ones_own_says_what_it_rests_on(
    recordings: dict[str, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    """Holes 7 to 10 were not in the recording; after a conversion nothing of it counts.

    Natural minor called G has the notes of a C minor chord, blown: it is made from a C harp, not
    from a G harp, which was tried as it stands in many a head.
    """
    _out(capsys, "measure", str(recordings["right"]), "--harp", "G", "--keep", "mine")
    assert main(["bench", "plan", "G:natural-minor", "--from-harp", "mine"]) == 0
    told = capsys.readouterr().err
    assert "not measured on mine as it is now: 7 blow, 7 draw" in told and "6 blow" not in told
    assert "from a C harp it is 11.8" in told
    assert main(["bench", "plan", "G:richter-raised-3-blow", "--from-harp", "mine"]) == 0
    assert "much work" not in capsys.readouterr().err
    _out(capsys, "history", "mine", "--converted", "G:natural-minor")
    assert main(["bench", "plan", "G:natural-minor", "--from-harp", "mine"]) == 0
    assert "as it is now: every reed." in capsys.readouterr().err


def test_a_harp_with_a_slide_has_a_sheet_though_its_valves_are_not_planned(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "slide.pdf"
    _out(capsys, "sheet", "C:slide-solo-12", "--targets-only", "--out", str(out))
    text = "".join(page.extract_text() for page in PdfReader(out).pages)
    assert "slide in" in text
