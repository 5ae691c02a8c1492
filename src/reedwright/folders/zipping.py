"""One zip of a folder, the same bytes for the same files."""

from __future__ import annotations

import zipfile
from pathlib import Path

from reedwright.files import whole_file

OLDEST_DATE = (1980, 1, 1, 0, 0, 0)  # the zip format's first; a real date would change the bytes
ALREADY_PACKED = {".mp3", ".pdf", ".png"}
PLAIN_FILE = 0o644 << 16


def zip_folder(folder: Path, target: Path) -> None:
    """Write every file of `folder` into `target`, in order of name, under the folder's name."""
    with whole_file(target) as temporary, zipfile.ZipFile(temporary, "w") as archive:
        for file in sorted(folder.iterdir()):
            entry = zipfile.ZipInfo(f"{folder.name}/{file.name}", OLDEST_DATE)
            stored = file.suffix in ALREADY_PACKED
            entry.compress_type = zipfile.ZIP_STORED if stored else zipfile.ZIP_DEFLATED
            entry.external_attr = PLAIN_FILE
            entry.create_system = 3  # Unix, wherever it is made
            archive.writestr(entry, file.read_bytes())
