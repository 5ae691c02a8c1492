"""Numbers of items as they stand in addresses.

Public: `Number`, `MOST`.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import Path

MOST = 2**53  # far beyond any item, and a whole number everywhere: in SQLite, Python, JavaScript

Number = Annotated[int, Path(ge=1, le=MOST)]
