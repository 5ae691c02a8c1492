"""The error of an ABC text: where, the line itself, a caret under the spot, and what to do."""

from __future__ import annotations

from reedwright.tune.model import Place
from reedwright.tune.refused import UnreadableTune

LINE_SHOWN = 100  # characters of a source line that an error shows, around the spot


class AbcError(UnreadableTune):
    """An ABC text that has no sensible reading.

    `reason` says what is wrong, `advice` what to do; `str()` shows both with the
    place, the source line and a caret.
    """

    def __init__(
        self, reason: str, place: Place, advice: str = "", line_text: str = "", source: str = ""
    ) -> None:
        self.reason = reason
        self.advice = advice
        self.line_text = line_text
        self.source = source
        super().__init__(self._text(place), place)

    def _text(self, place: Place) -> str:
        where = f"line {place.line}, column {place.column}"
        if self.source:
            where = f"{self.source}, {where}"
        parts = [f"{where}: {self.reason}."]
        if self.line_text:
            shown, caret = _with_caret(self.line_text, place.column)
            parts += [f"    {shown}", f"    {caret}^"]
        if self.advice:
            parts.append(f"{self.advice}.")
        return "\n".join(parts)

    def located(self, line_text: str, source: str) -> AbcError:
        """The same error with the source line and the name of the source."""
        return AbcError(self.reason, self.place, self.advice, line_text, source)


def _with_caret(line: str, column: int) -> tuple[str, str]:
    """A line cut to what a terminal shows, and the blanks that lead to its column."""
    line = "".join(c if c == "\t" or c.isprintable() else " " for c in line)
    start = max(0, column - LINE_SHOWN // 2) if len(line) > LINE_SHOWN else 0
    shown = line[start : start + LINE_SHOWN]
    blanks = "".join("\t" if c == "\t" else " " for c in shown[: column - 1 - start])
    return shown, blanks
