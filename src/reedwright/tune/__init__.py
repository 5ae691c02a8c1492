"""The written tune: read, written, played out, moved and told about. It knows no instrument.

`model` is what stands on the page; `unfold` plays it out, with `playorder` for repeats,
endings and jumps. `reading` reads any file, by `abc`, `musicxml_in` and `midi_in`; `abc` and
`musicxml` write. `form`, `keyfinding`, `tempo` and `rights` find things out, `transpose`
moves a tune, `report` tells of it. Lengths are exact fractions of a quarter note.
docs/reading.md says how each format is read.
"""

from reedwright.tune.model import Tune
from reedwright.tune.refused import Refused

__all__ = ["Refused", "Tune"]
