"""Nothing that is typed in the tune page is lost, whatever other windows and the shelf do then.

The page's own scripts run in Chromium before a server made up in nothing_lost.js, whose answers can
be held, so that a key can be pressed at the very moment at which a text could be lost.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page

CASES = (Path(__file__).parent / "nothing_lost.js").read_text(encoding="utf-8")
OPEN = {"conflict": True, "server": "theirs", "text": "mine", "aside": []}  # the user is asked
MEANT: dict[str, dict[str, object]] = {
    "look": OPEN,
    "step": {**OPEN, "kind": "conflict"},
    "width": OPEN,
    "ownStep": {"conflict": False, "server": "mine", "text": "mine", "aside": []},
    "asideInAConflict": {
        "conflict": True,
        "server": "theirs again",
        "text": "mine again",
        "aside": ["mine"],
        "back": "conflict",
        "copies": ["mine"],
        "draft": "mine again",
    },
    "asideTwice": {
        "conflict": False,
        "server": "theirs again",
        "text": "theirs again",
        "aside": ["mine", "mine again"],
    },
    "full": {**OPEN, "kind": "not-kept"},
    "copy": {
        "conflict": False,
        "server": "theirs",
        "text": "theirs",
        "aside": ["mine and more"],
        "later": True,
        "copies": ["mine"],
    },
    "busy": {
        "conflict": False,
        "server": "mine",
        "text": "mine",
        "aside": [],
        "states": ["changed", "saving", "busy", "saving", "saved"],
    },
    "widthInAConflict": {**OPEN, "server": "a third", "drawn": ["a third"]},
    "reloadInAConflict": {**OPEN, "text": "mine and more"},
    "arrived": {
        "conflict": False,
        "server": "theirs",
        "text": "theirs",
        "aside": [],
        "left": None,
    },
    "quickKey": {
        "conflict": False,
        "server": "mine",
        "text": "mine",
        "aside": ["left over"],
        "draft": None,
    },
}


@pytest.mark.usefixtures("house")
def test_no_text_is_written_over_or_dropped_unseen(page: Page) -> None:
    page.goto("/jobs")
    page.evaluate(f"() => {{ {CASES} }}")
    found = {name: page.evaluate("name => CASES[name]()", name) for name in MEANT}
    assert found == MEANT
