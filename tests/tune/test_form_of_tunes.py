"""The form is found from repeats, labels and equal parts, as the rule in tune/form.py says."""

from pathlib import Path

import pytest
from handmade_tunes import tune_of

from reedwright.tune.abc import read_abc
from reedwright.tune.form import find_form
from reedwright.tune.model import Tune

A = "CDEF|GFED|CEGE|DFAF|CDEF|GFED|EDCB|"  # seven bars; the eighth is added below
B = "gfed|cBAG|fedc|BAGF|gfed|cBAG|AFDF|"


@pytest.mark.parametrize(
    ("written", "form"),
    [
        (f"|:{A}C4:|:{B}C4:|", "AABB"),
        (f"{A}C4|{A}C2C2|{B}C4|{A}G4|]", "AABA"),  # written out: only last bars differ
        (f"{A}C4|{B}C4|cccc|dddd|eeee|ffff|gggg|aaaa|bbbb|c4|]", "ABC"),
        (f"|:{A}C4:|{B}C4|{B}G4|]", "AABB"),  # the second part written out beside a repeat
        (f"|:{A}|1C4:|2CDEG||{B}C4|]", "AAB"),
        (f"G|:{A}C3G:|:{B}C4:|", "AABB"),  # an anacrusis goes with its part
        (f"|:{A}C4:|:{A.replace('CEGE', 'GEGE')}C4:|", "AAAA"),  # one note is no new part
        (f"|:{A}C4:|:{A.replace('GFED', 'AGFE', 1)}G4:|", "AAA'A'"),  # a bar of eight is
        ("C4|", "A"),
    ],
)
def test_form_of_handmade_tunes(written: str, form: str) -> None:
    assert find_form(tune_of(written)) == form


def test_form_follows_the_part_order() -> None:
    assert find_form(tune_of(f"[P:A]{A}C4|[P:B]{B}C4|", part_order="ABA")) == "ABA"


def test_a_tune_without_notes_has_no_form() -> None:
    assert find_form(tune_of("z4|z4|")) == ""


def test_free_metre_is_one_part_a_section() -> None:
    text = "X:1\nT:t\nM:none\nL:1/4\nK:C\n|:CDEFGABc|dcBAGF:|G2E2C4|E2D2C4|]\n"
    tune = read_abc(text)[0]
    assert isinstance(tune, Tune)
    assert find_form(tune) == "AAB"


def test_the_demo_tunes_have_the_forms_they_were_composed_in() -> None:
    path = Path(__file__).parents[2] / "examples" / "tunes.abc"
    tunes = read_abc(path.read_text(encoding="utf-8"))
    forms = [find_form(tune) for tune in tunes if isinstance(tune, Tune)]
    # As composed: the air is written once through, the others are two repeated parts.
    assert forms == ["AABB", "AABB", "AABB", "AABB", "AB", "AABB", "AABB"]
