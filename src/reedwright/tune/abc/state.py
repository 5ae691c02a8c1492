"""What holds for a whole tune while it is read: user symbols, rules, problems found."""

from __future__ import annotations

from fractions import Fraction

from reedwright.tune.abc.symbols import SHORT_DECORATIONS
from reedwright.tune.model import Key, Meter, Place, Problem, Severity, Tempo

MOST_PROBLEMS = 200  # told for one tune; more of them help nobody


class TuneState:
    """The tune as far as it is read; voices begin with its key, metre and unit length."""

    def __init__(self) -> None:
        self.key: Key | None = None
        self.meter: Meter | None = None
        self.unit: Fraction | None = None  # quarter notes
        self.tempo: Tempo | None = None
        self.octave = 0
        self.transpose = 0
        self.symbols: dict[str, str] = dict(SHORT_DECORATIONS)
        self.macros: list[tuple[str, str]] = []
        self.propagate = "pitch"  # ABC 2.1, section 11.3: the default
        self.line_breaks = frozenset({"<EOL>", "$"})  # ABC 2.1, section 6.1.1: the default
        self.problems: list[Problem] = []
        self.told: set[tuple[str, int]] = set()

    def warn(self, message: str, line: int, column: int) -> None:
        """Tell of something that was passed over."""
        self._tell(Severity.WARNING, message, line, column)

    def repaired(self, message: str, line: int, column: int) -> None:
        """Tell of something that had one sensible reading, which was taken."""
        self._tell(Severity.REPAIRED, message, line, column)

    def _tell(self, severity: Severity, message: str, line: int, column: int) -> None:
        if len(self.problems) < MOST_PROBLEMS and (message, line) not in self.told:
            self.told.add((message, line))
            self.problems.append(Problem(severity, message, Place(line, column)))
