"""Where something stands in a recording, in words."""

from __future__ import annotations


def place_in(seconds: float) -> str:
    """`1:05.3`; with hours where there are any, `1:00:05.3`."""
    tenths = round(10 * max(0.0, seconds))
    minutes, rest = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    if hours:
        return f"{hours}:{minutes:02d}:{rest / 10:04.1f}"
    return f"{minutes}:{rest / 10:04.1f}"


def stretch(start: float, end: float) -> str:
    """`from 0:05.0 to 0:07.5`."""
    return f"from {place_in(start)} to {place_in(end)}"
