"""From a key typed in the tune page to the music on the screen, in Chromium.

A 32-bar reel of our own is open; a letter is typed, and taken away again, many times. Printed is
the time from the end of the pause that the page waits for (its PAUSE) until the new music is in
the page and a frame has been drawn; beside it, from the same run, what the server alone takes for
the same edit, asked of it without a browser: the ratio is what the page adds.

Run: python benchmarks/web_tune_page.py [edits]
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "web"))

import httpx
import numpy as np
from chromium import chromium_path
from playwright.sync_api import Page, sync_playwright
from webhouse import House, served

EDITS = 40
PARTS = "G2BG dGBG|c2ec BGAF|G2BG dGBd|cAFA G4|"
REEL = "X:1\nT:Thirty-two Bars\nR:reel\nM:4/4\nL:1/8\nK:G\n" + 8 * f"{PARTS}\n"

# Resolves with the milliseconds from the end of the pause until a frame shows the new music.
_EDIT = """
async (letter) => {
  const { tune } = await import('/static/js/tune/page.js');
  const { PAUSE } = await import('/static/js/tune/tune.js');
  const field = document.getElementById('abc');
  const music = document.getElementById('music');
  const at = field.value.indexOf('c2e') + 3;
  const shown = new Promise((done) => new MutationObserver((_, watching) => {
    watching.disconnect();
    requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now())));
  }).observe(music, { childList: true, subtree: true }));
  field.focus();
  field.setSelectionRange(at, at);
  const typed = performance.now();
  if (letter) document.execCommand('insertText', false, letter);
  else { field.setSelectionRange(at, at + 1); document.execCommand('delete'); }
  const found = (await shown) - typed - PAUSE;
  await tune.flush();
  return found;
}
"""


def in_the_page(page: Page, edits: int) -> list[float]:
    """Milliseconds of each edit; one letter in, one out."""
    letters = "defgab"
    return [
        page.evaluate(_EDIT, letters[(k // 2) % len(letters)] if k % 2 == 0 else "")
        for k in range(edits)
    ]


def of_the_server(house: House, number: int, edits: int) -> list[float]:
    """Milliseconds of the same edits, asked for without a page. Other letters: nothing is
    remembered of them."""
    found = []
    with httpx.Client(base_url=house.url) as client:
        view = client.get(f"/tunes/{number}/view").json()
        plain = view["text"]
        for k in range(edits):
            letter = "DEFGAB"[(k // 2) % 6] if k % 2 == 0 else ""
            text = plain.replace("c2e", f"c2e{letter}", 1)
            begun = time.perf_counter()
            answer = client.post(
                f"/tunes/{number}/text", json={"text": text, "made_from": view["version"]}
            )
            found.append(1000 * (time.perf_counter() - begun))
            view = answer.json()
    return found


def told(name: str, times: list[float]) -> None:
    half, most, worst = np.quantile(times, [0.5, 0.95, 1.0])
    print(f"{name}: median {half:.0f} ms, 95 % within {most:.0f} ms, most {worst:.0f} ms")


def main() -> None:
    edits = int(sys.argv[1]) if len(sys.argv) > 1 else EDITS
    with (
        tempfile.TemporaryDirectory() as folder,
        served(Path(folder)) as house,
        sync_playwright() as playwright,
    ):
        number = house.shelve(REEL).id
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=["--no-sandbox"])
        page = browser.new_page(base_url=house.url, viewport={"width": 1280, "height": 900})
        page.goto(f"/tunes/{number}")
        page.wait_for_selector("[data-ready]")
        in_the_page(page, 4)
        shown = in_the_page(page, edits)
        page.goto("about:blank")
        server = of_the_server(house, number, edits)
        browser.close()
    told("typed until shown, the pause left out", shown)
    told("the server alone", server)
    print(f"ratio of the medians: {np.median(shown) / np.median(server):.2f}")


if __name__ == "__main__":
    main()
