"""The cautions that belong to reed work, in one place: for paper, terminal and web.

Common practice in workshops, no source. What metal, plating and solder hold differs from maker to
maker, so the makers' guidance and local rules come first.

Public: `CAUTIONS`, `CARD_CAUTION`, `SHORT_CAUTION`, `SOLDER_CAUTION`.
"""

from __future__ import annotations

SOLDER_CAUTION = (
    "A soldered weight: use lead-free solder, with the window open or under an extractor, and do "
    "not breathe the fumes. The iron burns: keep it in its stand, unplug it when you leave."
)
CAUTIONS: tuple[str, ...] = (
    "The rules of your place and the maker's guidance come first; where they differ from this "
    "sheet, follow them. If you are unsure, let a technician do the work.",
    "Reeds and plates are brass, often with some lead in it. Filing and scratching makes dust: "
    "wear a dust mask, work over paper, and wipe up damp instead of blowing the dust away.",
    "Wear eye protection: reeds spring, and a scratched-off chip flies.",
    "Reeds, plates and covers have sharp edges. Fingers bleed before one feels it.",
    "No food or drink at the bench. Wash your hands afterwards, and keep children away.",
    SOLDER_CAUTION,
    "Cleaning alcohol catches fire easily: fresh air, and no flame or hot iron near it.",
    "Wipe plates, comb and covers clean of filings before you put the harp to your mouth.",
    "Never play somebody else's harp uncleaned: clean it before you measure or try it, and again "
    "before you hand it on.",
    "Filings and old solder are metal waste; do not sweep them into the sink.",
)
SHORT_CAUTION = (
    "Reed work leaves metal dust, which can hold lead, and sharp edges: mask, eye protection, no "
    "food at the bench, wash your hands, wipe the harp before playing. Local rules come first; "
    "if unsure, let a technician do it."
)
CARD_CAUTION = (
    "Keep this harp for one player; let nobody play it uncleaned, nor before it was cleaned after "
    "work on it. If you feel dizzy when playing, stop and breathe normally for a while."
)
