"""The cautions that belong to reed work, in one place: for paper, terminal and web.

Common practice in workshops, no source. What metal, plating and solder hold differs from maker to
maker, so the makers' guidance and local rules come first.

Public: `CAUTIONS`, `CARD_CAUTION`, `SHORT_CAUTION`.
"""

from __future__ import annotations

CAUTIONS: tuple[str, ...] = (
    "The rules of your place and the maker's guidance come first; where they differ from this "
    "sheet, follow them. If you are unsure, let a technician do the work.",
    "Reeds and plates are brass, often with some lead in it. Filing and scratching makes dust: "
    "wear a dust mask, work over paper, and wipe up damp instead of blowing the dust away.",
    "Wear eye protection: reeds spring, and a scratched-off chip flies.",
    "Reeds, plates and covers have sharp edges. Fingers bleed before one feels it.",
    "No food or drink at the bench. Wash your hands afterwards, and keep children away.",
    "Solder as a weight: use lead-free solder, and do it with the window open or under an "
    "extractor. Do not breathe the fumes.",
    "Wipe plates, comb and covers clean of filings before you put the harp to your mouth.",
    "Never play somebody else's harp uncleaned, and clean one that you have tried before you "
    "hand it on.",
    "Filings and old solder are metal waste; do not sweep them into the sink.",
)
SHORT_CAUTION = (
    "Reed work leaves metal dust, which can hold lead, and sharp edges: mask, eye protection, no "
    "food at the bench, wash your hands, wipe the harp before playing. Local rules come first; "
    "if unsure, let a technician do it."
)
CARD_CAUTION = (
    "This harp was cleaned before it left the bench. Keep it for one player; let nobody play it "
    "uncleaned. If you feel dizzy when playing, stop and breathe normally for a while."
)
