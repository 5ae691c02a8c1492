"""Before beside after: what moved, what is within error, and what is known of a harp today.

Expected values are worked by hand: 1200 log2 of the ratio of two Hz; uncertainties add as squares.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Reed
from reedwright.workshop.history.comparing import compare, latest, whole_change
from reedwright.workshop.history.model import (
    Converted,
    HeardReed,
    History,
    Measured,
    Noted,
)
from reedwright.workshop.history.reading import read_history
from reedwright.workshop.history.recalling import before_and_after
from reedwright.workshop.history.text import (
    comparison_report,
    comparison_text,
    history_report,
    history_text,
)
from reedwright.workshop.targets.making import reed_targets

B, D = Breath.BLOW, Breath.DRAW


def on(day: int) -> datetime:
    return datetime(2026, 11, day, 9, 30, tzinfo=UTC)


def heard(reed: Reed, hz: float, cents: float = 0.0, doubt: float = 0.3) -> HeardReed:
    return HeardReed(reed, hz, hz, cents, doubt, 1.0, 0.03, -20.0, 1)


def measured(day: int, *reeds: HeardReed, when: str = "check") -> Measured:
    return Measured(on(day), when, reeds, "equal, A 440")


def test_a_reed_that_was_raised_has_moved_by_what_its_hz_say() -> None:
    before = measured(1, heard(Reed(3, B), 440.0, -11.8), when="before")
    after = measured(2, heard(Reed(3, B), 443.0, 0.0), when="after")
    (change,) = compare(before, after)
    assert change.change == pytest.approx(11.764, abs=0.001)  # 1200 log2(443/440)
    assert change.uncertainty == pytest.approx((0.3**2 + 0.3**2 + 1.0**2) ** 0.5)
    assert change.moved
    assert (change.before_cents, change.after_cents) == (-11.8, 0.0)


def test_what_the_measurements_leave_open_has_not_moved() -> None:
    # 1 Hz of 440 is 3.93 cents.
    for doubt, moved in ((0.2, True), (3.0, False)):
        before = measured(1, heard(Reed(3, B), 440.0, doubt=doubt))
        after = measured(2, heard(Reed(3, B), 441.0, doubt=doubt))
        assert compare(before, after)[0].moved is moved
    near = compare(measured(1, heard(Reed(3, B), 440.0)), measured(2, heard(Reed(3, B), 440.3)))
    assert not near[0].moved


def test_a_reed_that_was_heard_once_only_has_no_change() -> None:
    before = measured(1, heard(Reed(3, B), 440.0), heard(Reed(1, D), 220.0))
    after = measured(2, heard(Reed(3, B), 440.0), heard(Reed(10, B), 1600.0))
    changes = compare(before, after)
    assert [each.reed for each in changes] == [Reed(1, D), Reed(3, B), Reed(10, B)]
    assert [each.change for each in changes] == [None, 0.0, None]
    assert not changes[0].moved and changes[0].after_hz is None
    assert whole_change(changes) == 0.0 and whole_change(()) == 0.0


def test_the_last_measured_hz_count_by_date_whatever_the_order_of_the_file() -> None:
    late = measured(9, heard(Reed(1, B), 197.0))
    early = measured(3, heard(Reed(1, B), 195.0), heard(Reed(1, D), 220.5))
    history = History("one", "G", Path("one.toml"), (late, early))
    assert latest(history) == {Reed(1, B): 197.0, Reed(1, D): 220.5}
    assert history.measurements == (early, late)


def test_reeds_that_a_conversion_changed_are_unknown_until_measured() -> None:
    first = measured(
        1, heard(Reed(2, D), 293.0), heard(Reed(3, B), 293.5), heard(Reed(5, B), 494.0)
    )
    raised = Converted(on(2), "G:richter-raised-3-blow")
    history = History("one", "G", Path("one.toml"), (first, raised))
    # Raised 3 blow differs from Richter in that reed alone (harp/data).
    assert latest(history) == {Reed(2, D): 293.0, Reed(5, B): 494.0}
    again = measured(3, heard(Reed(3, B), 329.6))
    history = History("one", "G", Path("one.toml"), (first, raised, again))
    assert latest(history)[Reed(3, B)] == 329.6
    touched = Converted(on(4), "G:richter-raised-3-blow", ((Reed(5, B), "down 14 cents"),))
    history = History("one", "G", Path("one.toml"), (first, raised, again, touched))
    assert Reed(5, B) not in latest(history) and Reed(3, B) in latest(history)


def test_reeds_that_may_be_another_are_left_out_where_that_matters() -> None:
    doubtful = heard(Reed(3, B), 293.5)._replace(others=(Reed(2, D),))
    history = History("one", "G", Path("x"), (measured(1, doubtful, heard(Reed(5, B), 494.0)),))
    assert latest(history) == {Reed(3, B): 293.5, Reed(5, B): 494.0}
    assert latest(history, sure=True) == {Reed(5, B): 494.0}


def test_a_conversion_to_a_tuning_that_is_gone_leaves_only_what_it_did_not_name() -> None:
    first = measured(1, heard(Reed(2, D), 293.0), heard(Reed(3, B), 293.5))
    gone = Converted(on(2), "G:/nowhere/odd.toml", ((Reed(3, B), "up 200 cents"),))
    assert latest(History("one", "G", Path("x"), (first, gone))) == {Reed(2, D): 293.0}
    gone = Converted(on(2), "G:/nowhere/odd.toml")
    assert latest(History("one", "G", Path("x"), (first, gone))) == {}


def whole_history() -> History:
    entries = (
        Noted(on(1), "bought used,\nsmells of pepper"),
        measured(
            2, heard(Reed(3, B), 290.0, -21.5), heard(Reed(5, D), 520.0, -10.8), when="before"
        ),
        Converted(on(3), "G:richter-raised-3-blow", ((Reed(3, B), "up 221 cents"),)),
        measured(4, heard(Reed(3, B), 329.6), heard(Reed(5, D), 520.2, -10.1), when="after"),
        Noted(on(5), "", "photo"),
    )
    return History("the red G", "G", Path("the-red-g.toml"), entries)


def test_a_history_is_told_in_80_columns_oldest_first() -> None:
    text = history_text(whole_history())
    lines = text.splitlines()
    assert max(map(len, lines)) <= 80
    assert lines[0] == "the red G: G harp, raised 3 blow"
    assert lines[1] == "It was G harp."
    told = [line for line in lines if line.startswith("2026-11-") and "beside" not in line]
    assert [line[8:10] for line in told] == ["01", "02", "03", "04", "05"]
    assert "2 more than 3 cents" in text and "3 blow -21.5" in text
    assert "converted to G harp, raised 3 blow: 3 blow up 221 cents." in text
    # 3 blow: 1200 log2(329.6/290) is 221.60 by hand; 5 draw: 0.67 cents.
    table = {line[:7].strip(): line for line in lines if line[:7].strip() in ("3 blow", "5 draw")}
    assert "+221.6" in table["3 blow"] and table["3 blow"].endswith("moved")
    assert table["5 draw"].endswith("within error")


def test_a_history_of_nothing_says_so() -> None:
    assert "Nothing was measured" in history_text(History("new", "low D", Path("new.toml")))


def test_reports_are_plain_data() -> None:
    history = whole_history()
    told = json.loads(json.dumps(history_report(history)))
    assert told["harp_now"] == "G:richter-raised-3-blow"
    assert [each["kind"] for each in told["entries"]] == [
        *("note", "measurement", "conversion", "measurement", "photo")
    ]
    assert told["entries"][1]["date"] == "2026-11-02T09:30:00+00:00"
    assert told["latest_hz"] == [
        {"hole": 3, "breath": "blow", "hz": 329.6},
        {"hole": 5, "breath": "draw", "hz": 520.2},
    ]
    changes = compare(*history.measurements)
    beside = json.loads(json.dumps(comparison_report(changes)))
    assert [each["moved"] for each in beside["reeds"]] == [True, False]
    assert "1 of 2 reeds moved" in comparison_text(changes)


def test_the_file_that_the_docs_show_is_a_history() -> None:
    page = (Path(__file__).parents[2] / "docs" / "harp-history.md").read_text(encoding="utf-8")
    shown = page.split("```toml\n")[1].split("```")[0]
    history = read_history(Path("shown.toml"), shown)
    assert [type(entry) for entry in history.entries] == [Measured, Converted, Noted]
    # 3 blow was converted and not measured since.
    assert latest(history) == {Reed(1, B): 196.3301}


def test_before_and_after_are_told_apart_by_the_conversion_or_by_the_pitch() -> None:
    """C with 3 blow raised: G4 is 392.00 Hz and A4 440.00 in equal temperament (ISO 16)."""
    targets = reed_targets(make_harp("C", "richter-raised-3-blow"))
    reed = Reed(3, Breath.BLOW)

    def told(*entries: Measured | Converted) -> tuple[float | None, float | None]:
        history = History("red", "C", Path("red.toml"), entries)
        pair = before_and_after(history, targets)
        first, last = (each and round(each.reeds[0].cents) for each in pair)
        return first, last

    low, high = heard(reed, 392.0), heard(reed, 440.0)
    converted = Converted(on(3), "C:richter-raised-3-blow")
    assert told() == (None, None)
    assert told(measured(1, low)) == (-200, None)
    assert told(measured(1, low), measured(2, high)) == (-200, 0)  # done, though nobody said so
    assert told(measured(1, low, when="before"), measured(2, low, when="after")) == (-200, None)
    assert told(measured(1, low), measured(2, low), converted) == (-200, None)
    assert told(measured(1, low), converted, measured(4, high)) == (-200, 0)
    assert told(converted, measured(4, high)) == (None, 0)
