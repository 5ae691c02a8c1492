"""Offers in words for people, and as plain values for programs.

Public: `offers_text`, `offers_report`, `offer_text`.
"""

from __future__ import annotations

from collections.abc import Sequence

from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.likenesses.deciding import count_offers
from reedwright.shelf.likenesses.model import Offer
from reedwright.tune.likeness.differing import differing_words


def offers_text(shelf: Shelf, found: Sequence[Offer], limit: int) -> str:
    """At most `limit` of the offers, two lines each, and how to answer."""
    if not found:
        return "No tunes of the shelf are offered as settings of one another."
    shown = found[:limit]
    lines = [offer_text(each) for each in shown]
    more = len(found) - len(shown)
    if more:
        every = count_offers(shelf)
        lines.append(
            f"{more} more of these" + (f", {every} on the shelf in all." if every else ".")
        )
    one, other = shown[0].one, shown[0].other
    lines.append(
        f"Settings of one tune? reedwright shelf settings {one} --yes {other}; "
        f"two tunes: --no {other}."
    )
    return "\n".join(lines)


def offer_text(offer: Offer) -> str:
    """Two lines: both tunes with their numbers, and how they differ."""
    return (
        f"{offer.score:4.0%}  {offer.one} {offer.title}  and  {offer.other} {offer.other_title}\n"
        f"      {differing_words(offer.differing)}"
    )


def offers_report(shelf: Shelf, found: Sequence[Offer]) -> dict[str, object]:
    """All offers for `--json` (docs/settings-of-a-tune.md)."""
    return {"offers": [_report(each) for each in found], "on_the_shelf": count_offers(shelf)}


def _report(offer: Offer) -> dict[str, object]:
    what = offer.differing
    return {
        "one": offer.one,
        "title": offer.title,
        "other": offer.other,
        "other_title": offer.other_title,
        "score": round(offer.score, 3),
        "words": differing_words(what),
        "semitones": what.semitones,
        "length_factor": 2.0**what.doublings,
        "agreement": round(what.agreement, 3),
        "covered": [round(what.covered, 3), round(what.covered_there, 3)],
        "other_order": what.reordered,
        "bars": [
            {"one": [each.first, each.last], "other": [each.there_first, each.there_last]}
            for each in what.bars
        ],
    }
