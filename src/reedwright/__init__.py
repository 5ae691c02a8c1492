"""Reedwright: from a dance tune to a finished lesson for the ten-hole harmonica.

The rooms of the house, lowest first: `tune` (the written tune), `harp` (the
instrument), `player` (the person), `tab` (the arranger), `sound`, `page`,
`pack` (the finished lesson) and `cli`. docs/design.md says why.
"""

__version__ = "0.1.0"
