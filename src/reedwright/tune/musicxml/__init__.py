"""Writing a tune as MusicXML 4.0 (score-partwise), with tab as verses.

Files, from the outside in: `score` (document and header), `measures` (bar lines,
keys, metres, directions), `notes` (one note or rest), and what they rest on:
`lengths` (note types), `beams`, `accidentals`, `spans` (ties and slurs), `signs`
(decorations and chord symbols).

Standard: MusicXML 4.0, W3C Music Notation Community Group, June 2021.
"""

from reedwright.tune.musicxml.score import write_musicxml

__all__ = ["write_musicxml"]
