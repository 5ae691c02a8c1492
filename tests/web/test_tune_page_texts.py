"""The tune page's reckoning with texts and times, asked of its scripts in Chromium.

Lines and columns are checked against Python's own `str.split`: a line ends with a line feed alone,
also where other signs would end one for Unicode; differences against the two texts that they must
give back.
"""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from playwright.sync_api import Page
from webhouse import House

LETTERS = st.sampled_from(["a", "|", " ", "\n", "\v", "\x85", "\u2028", "é", "𝄞", "😀"])
TEXTS = st.text(LETTERS, max_size=40)
PLAIN = st.text("abc", max_size=6)
FEW = settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


def _ask(page: Page, module: str, expression: str, given_: object) -> object:
    """What an expression says of `m`, a script's exports, and `g`."""
    return page.evaluate(
        "async ([module, expression, g]) => {"
        " const m = await import(`/static/js/tune/${module}.js`); window.m = m; window.g = g;"
        " return ASKED[expression](m, g); }",
        [module, expression, given_],
    )


ASKED = """
window.ASKED = {
  offsets: (m, {text, places}) => {
    const lines = m.lineStarts(text);
    return places.map(([line, column]) => m.offsetOf(text, lines, line, column));
  },
  moved: (m, {marks, before, after}) => m.moved(marks, before, after),
  difference: (m, {theirs, mine}) => m.difference(theirs, mine),
  loop: (m, {times, bars}) => m.loopTimes(times, bars),
  same: (m, {from, to, at}) => m.sameMusic(from, to, at),
  sounding: (m, {notes, at}) => at.map((each) => m.soundingAt(notes, each)?.[0] ?? null),
};
"""


def _utf16(text: str) -> int:
    return len(text.encode("utf-16-le")) // 2


def test_scripts_find_places_and_differences_and_times_as_they_must(
    page: Page, house: House
) -> None:
    page.add_init_script(ASKED)
    page.goto("/jobs")

    @FEW
    @given(TEXTS)
    def lines_and_columns_are_those_of_the_reader(text: str) -> None:
        places, wanted = [], []
        at = 0
        for number, line in enumerate(text.split("\n"), 1):
            for column in range(len(line) + 1):
                places.append([number, column + 1])
                wanted.append(_utf16(text[: at + column]))
            at += len(line) + 1
        assert _ask(page, "places", "offsets", {"text": text, "places": places}) == wanted

    @FEW
    @given(PLAIN, PLAIN, PLAIN, PLAIN)
    def marks_stay_at_their_letters(head: str, out: str, put: str, tail: str) -> None:
        before, after = head + out + tail, head + put + tail
        marks = [
            {"from": start, "to": end}
            for start in range(len(before))
            for end in range(start + 1, len(before) + 1)
        ]
        given_ = {"marks": marks, "before": before, "after": after}
        found = _ask(page, "places", "moved", given_)
        assert isinstance(found, list)
        assert [each for each in marks if each["to"] <= len(head)] == [
            each for each in found if each["to"] <= len(head)
        ]
        kept = [after[each["from"] : each["to"]] for each in found]
        left = iter(before[each["from"] : each["to"]] for each in marks)
        assert all(text in left for text in kept)  # in their order, with their letters
        single = [each for each in found if each["to"] - each["from"] == 1]
        assert len(single) >= len(head) + len(tail)

    @FEW
    @given(st.text("ab\n", max_size=30), st.text("ab\n", max_size=30))
    def a_difference_gives_both_texts_back(theirs: str, mine: str) -> None:
        found = _ask(page, "difference", "difference", {"theirs": theirs, "mine": mine})
        assert isinstance(found, list)
        assert "\n".join(line for whose, line in found if whose != "mine") == theirs
        assert "\n".join(line for whose, line in found if whose != "theirs") == mine
        if theirs == mine:
            assert {whose for whose, _ in found} == {"both"}

    lines_and_columns_are_those_of_the_reader()
    marks_stay_at_their_letters()
    a_difference_gives_both_texts_back()

    # A B A C: the second time through goes to another ending.
    times = {"bars": [[0, 1, 2], [1, 2, 3], [0, 3, 4], [2, 4, 5]]}
    assert _ask(page, "player", "loop", {"times": times, "bars": [0, 1]}) == [1, 3]
    assert _ask(page, "player", "loop", {"times": times, "bars": [0, 2]}) == [3, 5]
    assert _ask(page, "player", "loop", {"times": times, "bars": [0, 0]}) == [1, 2]
    assert _ask(page, "player", "loop", {"times": times, "bars": [2, 1]}) is None

    # The same music in a sound of half the speed, with clicks before it.
    fast = {"duration": 3, "tune_start": 0, "notes": [["a", 0, 1], ["b", 1, 2], ["c", 2, 3]]}
    slow = {"duration": 8, "tune_start": 2, "notes": [["a", 2, 4], ["b", 4, 6], ["c", 6, 8]]}
    for at, wanted in ((0, 2), (0.5, 3), (1.25, 4.5), (2.5, 7)):
        assert _ask(page, "player", "same", {"from": fast, "to": slow, "at": at}) == wanted
        assert _ask(page, "player", "same", {"from": slow, "to": fast, "at": wanted}) == at

    # A short breath between two notes leaves the mark where it is, a long rest does not.
    notes = [["a", 0, 0.9], ["b", 1, 1.5], ["c", 3, 4]]
    asked = [-0.1, 0.5, 0.95, 1.0, 2.0, 3.5, 4.5]
    assert _ask(page, "player", "sounding", {"notes": notes, "at": asked}) == [
        None, "a", "a", "b", None, "c", None,
    ]  # fmt: skip
