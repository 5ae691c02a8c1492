"""axe-core in a page: what breaks WCAG 2.2 at level A or AA.

axe-core 4.14.1 (MPL-2.0, beside this file) judges; its rules cite WCAG's success criteria.
"""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Page

_AXE = (Path(__file__).parent / "vendor/axe-4.14.1.min.js").read_text(encoding="utf-8")
_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


def violations(page: Page, rules: list[str] | None = None) -> list[str]:
    """Each violation in a line: the rule, what it asks, and the elements.

    `rules`: by their names, these alone; else all of WCAG 2.2 A and AA.
    """
    if not page.evaluate("'axe' in window"):
        page.evaluate(_AXE)
    found = page.evaluate(
        "only => axe.run(document, {runOnly: only, resultTypes: ['violations']})"
        ".then(result => result.violations)",
        rules or _TAGS,
    )
    return [
        f"{each['id']}: {each['help']}: " + "; ".join(node["html"][:160] for node in each["nodes"])
        for each in found
    ]
