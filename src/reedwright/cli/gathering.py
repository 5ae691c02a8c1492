"""The tunes of many places at once: files, folders, and what is on the shelf.

What cannot be read is told and left out, and the command's status says so.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing, shelved
from reedwright.cli.output import Progress
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.tune.model import Tune


def gathered(
    args: argparse.Namespace, places: Sequence[Path], progress: Progress, share: float = 1.0
) -> Iterator[Tune]:
    """Every tune, in order; `share`: how much of the command's work the reading is.

    Sets `args.refused` where something could not be read. Raises the error of the only file
    where there is no other.
    """
    from reedwright.tune.reading import files_of_tunes
    from reedwright.tune.refused import Refused

    files = [
        file
        for place in places
        for file in ([place] if shelved.is_shelved(place) else files_of_tunes([place]))
    ]
    for number, file in enumerate(files):
        progress(share * number / len(files), f"reading {file.name}")
        try:
            for tune in choosing.all_tunes(str(file)):
                if isinstance(tune, Refused):
                    choosing.tell(str(tune.error))
                    args.refused = True
                else:
                    yield tune
        except ReedwrightError as error:
            if len(files) == 1:
                raise
            choosing.tell(str(error))
            args.refused = True
