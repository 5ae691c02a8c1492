"""Numbers of items and of their states, as they stand in addresses, forms and JSON.

Public: `ItemId`, `ItemNumber`, `StateNumber`, `NumberOrNone`, `MOST`.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import Path
from pydantic import Field

MOST = 2**53  # far beyond any item, and a whole number everywhere: in SQLite, Python, JavaScript

ItemId = Annotated[int, Path(ge=1, le=MOST)]
"""Of an item, in an address."""
ItemNumber = Annotated[int, Field(ge=1, le=MOST)]
"""Of an item, in what is sent."""
StateNumber = Annotated[int, Field(ge=1, le=MOST)]
"""Of an item's state, counted from 1."""
NumberOrNone = Annotated[int, Field(ge=0, le=MOST)]
"""Of an item or a state; 0 for none."""
