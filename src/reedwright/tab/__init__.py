"""The arranger: a tune on a harp for a player, as the exact tab of least effort.

`arrange` makes an `Arrangement`, `ranking` finds the harp that a tune lies best on, `best` does
both. How it is found: `chain` (which notes meet), `ways` (what sounds them), `effort` and
`costs` (what that costs), `solver` (the least sum). What is made of it: `notation` (signs),
`text` (terminal), `spoken` (words), `remarks` (notes for the student), `report` (JSON).

In rooms of their own: `ornaments`, `breath`, `difficulty` (with the practice plan), `choices` (the
teacher's), `fingerings` (the ways not taken) and `owned` (the harps that somebody has).
docs/effort.md tells more.
"""

from reedwright.tab.arrangement import Arrangement, MissingNote

__all__ = ["Arrangement", "MissingNote"]
