"""Whatever the input: a tune or a refusal, quickly, and a tune reads back equal."""

import random
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reedwright.tune.abc import Refused, read_abc, same_music, write_abc
from reedwright.tune.model import Tune

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"
SEED = 1850
SLOWEST = 0.5  # seconds for one tune of ordinary length, on a busy machine
LONG_RUNS = '( [ { " ! + | : A - 1 / > \\ & [K: |: (3 A> {a "A [A w: P:( ~ ^ . 1, Z9'
SIGNS = "ABCDEFGabcdefgzxZ|:[]()<>{}-_^=/0123456789\"!+.~,'\\ %&\nKMLQVPw$*`HTuvy"

WORD_TEXT = """
A B c d' E, ^F _b =c A2 B/ c3/2 z z2 x2 | || |] |: :| :: |1 |2 [1 [2 :|2 > < >> - ( ) (3 (3:2:4
{a} {/bc} [CE] [C-E]2 ~ . H T u !trill! !segno! !D.C.! !fine! & Z y $ ` "Am" "^hi"
[K:D] [M:3/4] [L:1/16] [Q:1/4=80]
"""
LINES = ("\\\n", "\n", " ", "\nP:A\n", "\nw:la-la_*|\n", "\nK:Em\n", "\nV:2\n", "\nV:1\n", "%x\n")
WORDS = st.sampled_from([*WORD_TEXT.split(), *LINES])
NOTES = st.builds(
    lambda sign, step, mark, length: sign + step + mark + length,
    st.sampled_from(["", "", "", "^", "_", "="]),
    st.sampled_from("ABCDEFGabcdefg"),
    st.sampled_from(["", "", "'", ","]),
    st.sampled_from(["", "", "2", "3", "4", "/", "3/2", "//"]),
)
BARS = st.lists(
    st.one_of(
        NOTES,
        st.tuples(NOTES, NOTES).map(">".join),
        st.lists(NOTES, min_size=3, max_size=3).map(lambda three: "(3" + "".join(three)),
        st.lists(NOTES, min_size=2, max_size=3).map(lambda some: "[" + "".join(some) + "]"),
        NOTES.map("{{{}}}A".format),
        st.sampled_from(["z", "z2", "x", "~A", '"G"B', '"^up"c', "(Ac)", "A-A", "!trill!d"]),
    ),
    min_size=1,
    max_size=8,
)
TUNES = st.tuples(
    st.sampled_from(["G", "Edor", "Bb", "F#m", "Amix", "none", "D =c", "HP"]),
    st.sampled_from(["4/4", "6/8", "C|", "3/4", "none", "2+3/8"]),
    st.lists(
        st.tuples(
            BARS, st.sampled_from(["|", "|", "||", "|:", ":|", "::", "|]\n", "|\n", "|1", ":|2"])
        ),
        min_size=1,
        max_size=8,
    ),
).map(
    lambda parts: (
        f"X:1\nT:t\nM:{parts[1]}\nL:1/8\nK:{parts[0]}\n"
        + "".join(" ".join(bar) + line + " " for bar, line in parts[2])
        + "\n"
    )
)


def check(text: str) -> int:
    """Read a text; every tune in it reads back equal. Returns how many tunes it holds."""
    start = time.thread_time()
    tunes = read_abc(text)
    assert time.thread_time() - start < SLOWEST * max(1, len(tunes))
    for tune in tunes:
        if isinstance(tune, Refused):
            assert str(tune.error)
            continue
        written = write_abc(tune)
        (again,) = read_abc(written)
        assert isinstance(again, Tune), f"{again}\n{written}"
        assert same_music(tune, again), written
    return len(tunes)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.text())
def test_any_text_is_read_or_refused(text: str) -> None:
    check(text)
    check("X:1\nT:t\nK:C\n" + text)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.lists(WORDS, max_size=40))
def test_any_words_of_abc_are_read_or_refused(words: list[str]) -> None:
    check("X:1\nT:t\nM:4/4\nL:1/8\nK:C\n" + "".join(words) + "\n")


@settings(
    max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
@given(TUNES)
def test_made_up_tunes_read_back_equal(text: str) -> None:
    (tune,) = read_abc(text)
    assert isinstance(tune, Tune) or "no notes" in str(tune.error)
    assert check(text) == 1


@pytest.mark.no_cover
def test_tunes_with_slips_of_the_pen_are_read_or_refused() -> None:
    """Real tunes with characters lost, put in and changed at random, 500 of them, seeded."""
    import music21

    corpus = Path(music21.__file__).parent / "corpus"
    texts = EXAMPLES.read_text(encoding="utf-8").split("\n\n")
    for file in ("oneills1850/0001-0050.abc", "oneills1850/1276-1375.abc", "airdsAirs/book6.abc"):
        texts += (corpus / file).read_text(encoding="latin-1").split("\n\n")
    rng = random.Random(SEED)
    texts = [text + "\n" for text in texts if "K:" in text]
    for _ in range(500):
        letters = list(rng.choice(texts))
        for _ in range(rng.choice((1, 2, 5, 20))):
            at = rng.randrange(len(letters))
            what = rng.random()
            if what < 0.3 and len(letters) > 20:
                del letters[at : at + rng.choice((1, 1, 2, 8))]
            elif what < 0.7:
                letters.insert(at, rng.choice(SIGNS))
            else:
                letters[at] = rng.choice(SIGNS)
        check("".join(letters))


def test_no_input_takes_long() -> None:
    """Texts that make careless expressions slow: long runs of one sign, unclosed pairs."""
    for sign in [*LONG_RUNS.split(), " ", "'"]:
        for text in (sign * 1000, sign * 1000 + "A|", "A|" + sign * 1000 + "\n" + sign * 1000):
            start = time.thread_time()
            read_abc("X:1\nT:t\nK:C\n" + text + "\n")
            read_abc(f"X:1\nT:{text}\nP:{text}\nQ:{text}\nK:C {text}\nA|\nw:{text}\n")
            assert time.thread_time() - start < 4 * SLOWEST, sign


LONG = "4" * 5000


@pytest.mark.parametrize(
    "field",
    [
        "M:²",
        "M:³/4",
        f"M:{LONG}",
        f"M:4/{LONG}",
        f"Q:1/4={LONG}",
        f"Q:{LONG}",
        f"L:1/{LONG}",
        f"P:A{LONG}",
    ],
    ids=lambda field: field[:8],
)
def test_fields_with_numbers_that_nobody_means_are_told_with_their_place(field: str) -> None:
    """Python reads no whole number of more than 4,300 digits, and takes ² for a digit."""
    (found,) = read_abc(f"X:1\nT:Odd\nM:4/4\nL:1/8\n{field}\nK:G\nG2BG dGBG|\n")
    if isinstance(found, Tune):
        assert any(problem.place.line == 5 for problem in found.problems)
    else:
        assert "line 5" in str(found.error)
