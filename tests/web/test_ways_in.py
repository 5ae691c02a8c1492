"""Which part of Reedwright a page says that it belongs to, and how pages are come to."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient
from webhouse import House

Client = tuple[TestClient, House]


@pytest.mark.parametrize(
    "part", ["", "/stand", "/harps", "/harps/look?harp=G@0", "/takes", "/pack"]
)
def test_every_page_of_a_tune_is_of_the_shelf(client: Client, part: str) -> None:
    asker, house = client
    tune = house.shelve()
    shown = asker.get(f"/tunes/{tune.id}{part}", headers={"accept": "text/html"}).text
    top = shown[shown.index('aria-label="Reedwright"') : shown.index("</header>")]
    assert top.count("aria-current") == 1
    assert '<a href="/shelf" aria-current="page">' in top


@pytest.mark.parametrize("address", ["/harps", "/players", "/players/one?player=player"])
def test_harps_and_players_are_come_to_by_the_bench(client: Client, address: str) -> None:
    asker, _ = client
    way = address.split("/one")[0]
    assert f'<a href="{way}">' in asker.get("/bench").text
    shown = asker.get(address).text
    assert '<a href="/bench" aria-current="page">' in shown
    assert f'<a href="{way}" aria-current="page">' in shown


def test_the_players_page_has_the_style_of_its_fields(client: Client) -> None:
    assert "/static/css/bench.css" in client[0].get("/players").text
