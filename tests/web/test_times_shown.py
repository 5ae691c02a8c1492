"""Times on the pages are this machine's, in one form."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from reedwright.web import templating
from reedwright.web.templating import day, moment


@pytest.fixture
def two_hours_east(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A machine whose clock is two hours before UTC, in the sign of POSIX's TZ."""
    monkeypatch.setenv("TZ", "EAST-2")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("two_hours_east")
def test_a_time_is_shown_as_on_the_clock_here() -> None:
    late = datetime(2026, 11, 2, 22, 55, tzinfo=UTC)
    assert moment(late) == "3 November 2026, 00:55"
    assert day(late) == "3 November 2026"


@pytest.mark.usefixtures("two_hours_east")
def test_a_time_without_a_zone_is_of_the_clock_here() -> None:
    assert moment(datetime(2026, 11, 2, 22, 55)) == "2 November 2026, 22:55"


def test_no_page_writes_a_time_in_another_form() -> None:
    pages = sorted((Path(templating.__file__).parent / "templates").rglob("*.html"))
    assert pages
    other = re.compile(r"strftime|astimezone|\.at\.(day|month|year)\b")
    assert [each.name for each in pages if other.search(each.read_text("utf-8"))] == []
