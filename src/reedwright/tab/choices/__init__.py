"""The teacher's choices: kept in an arrangement file beside the tune, found again after edits.

`read_choices` and `write_choices` for the file, `resolve` to turn choices into what the
arranger takes (`tab.wishes`). The file is described in docs/choices.md.
"""

from reedwright.tab.choices.book import ChoiceBook
from reedwright.tab.choices.changing import put_aside, with_choice, with_weights, without_choices
from reedwright.tab.choices.matching import choices_of
from reedwright.tab.choices.model import (
    Aside,
    Breathe,
    Choice,
    ChoicesError,
    Never,
    NotePlace,
    Ornamented,
    Play,
    TuneChoices,
    Way,
)
from reedwright.tab.choices.places import Placed, note_places
from reedwright.tab.choices.reading import choices_path, read_choices
from reedwright.tab.choices.resolving import Resolved, resolve
from reedwright.tab.choices.spelling import parse_way, way_words
from reedwright.tab.choices.writing import write_choices

__all__ = [
    "Aside",
    "Breathe",
    "Choice",
    "ChoiceBook",
    "ChoicesError",
    "Never",
    "NotePlace",
    "Ornamented",
    "Placed",
    "Play",
    "Resolved",
    "TuneChoices",
    "Way",
    "choices_of",
    "choices_path",
    "note_places",
    "parse_way",
    "put_aside",
    "read_choices",
    "resolve",
    "way_words",
    "with_choice",
    "with_weights",
    "without_choices",
    "write_choices",
]
