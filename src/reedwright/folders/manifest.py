"""The list of what a pack holds and how it was made. Shape: docs/formats.md."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from importlib.metadata import version
from pathlib import Path

from reedwright import __version__

# Their versions can change the bytes of a pack.
MAKERS = ("verovio", "typst", "lameenc", "numpy", "scipy", "mido", "mutagen", "av", "pedalboard")
MANIFEST_NAME = "manifest.json"


def manifest(
    folder: Path,
    what_each_is: Mapping[str, str],
    lesson: Mapping[str, object],
    settings: Mapping[str, object],
) -> bytes:
    """JSON for the files of `folder`: what each is, its size in bytes and SHA-256.

    There is no date in it: the same input and settings give the same bytes.
    """
    files = [
        {
            "name": name,
            "what": what,
            "bytes": (folder / name).stat().st_size,
            "sha256": hashlib.sha256((folder / name).read_bytes()).hexdigest(),
        }
        for name, what in what_each_is.items()
    ]
    content = {
        "made_by": f"reedwright {__version__}",
        "libraries": {name: version(name) for name in MAKERS},
        **lesson,
        "settings": dict(settings),
        "files": files,
    }
    return (json.dumps(content, ensure_ascii=False, indent=2) + "\n").encode()
