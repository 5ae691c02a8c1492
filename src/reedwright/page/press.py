"""The press: Typst with one template, which keeps what it has laid out between tries.

Public: `Press`, `Measure`, `NotTypeset`, `page_count`.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final, NamedTuple

from reedwright.errors import ReedwrightError

HERE = Path(__file__).parent
TEMPLATE = HERE / "templates" / "lesson.typ"
FONTS = HERE / "fonts"
STANDARD: Final = "ua-1"  # PDF/UA-1, ISO 14289-1
CREATION_TIME = 0  # seconds of the UNIX epoch: one for all, so that the bytes never differ


class NotTypeset(ReedwrightError):
    """The template did not make a page."""


class Measure(NamedTuple):
    """Where the page ends, and where its music would begin: page number and mm from the top."""

    end: tuple[int, float]
    music: tuple[int, float]


class Press:
    """Makes pages of one template.

    Only our fonts and Typst's are used, so pages never differ from machine to machine; where
    a text has letters that these lack (Chinese, say) the system's fonts are taken in, and
    what even they lack is printed as a question mark.
    """

    def __init__(self, template: Path | None) -> None:
        self._template = template or TEMPLATE
        if not self._template.is_file():
            raise NotTypeset(f"No template {self._template}: name a Typst file that exists.")
        self._system_fonts = False
        self.unprintable: set[str] = set()  # letters met so far that no font has
        self._compiler = self._new_compiler()

    def _new_compiler(self) -> Any:
        import typst

        return typst.Compiler(
            str(self._template),
            root=str(self._template.parent),
            font_paths=_fonts(self._system_fonts),
        )

    def measure(self, lesson: Mapping[str, object]) -> Measure | None:
        """Where things stand on the page; None where the template does not tell."""
        self.typeset(lesson)
        places = []
        for label in ("<end>", "<music>"):
            found = json.loads(self._compiler.query(label, field="value"))
            if not found:
                return None
            places.append((int(found[-1]["page"]), float(found[-1]["y"])))
        return Measure(*places)

    def told(self, data: Mapping[str, object], label: str) -> list[Any]:
        """What the template says, in metadata at a label, of this data. Raises NotTypeset."""
        self.typeset(data)
        found: list[Any] = json.loads(self._compiler.query(label, field="value"))
        return found

    def typeset(self, lesson: Mapping[str, object]) -> bytes:
        """The PDF of what docs/page.md describes. Raises NotTypeset."""
        import typst

        data = json.dumps(lesson, ensure_ascii=False)
        for _ in range(MOST_UNKNOWN_LETTERS):
            try:
                return self._compile(data)
            except typst.TypstError as error:
                unknown = _NO_LETTER.search(error.message)
                if not unknown:
                    raise NotTypeset(
                        f"Template {self._template}: {error.message.strip()}. What a template is "
                        "given, and what PDF/UA-1 asks of it, stands in docs/page.md."
                    ) from error
                if self._system_fonts:
                    letters = _ESCAPED.sub(lambda code: chr(int(code[1], 16)), unknown[1])
                    data = data.replace(letters, "?" * len(letters))
                    self.unprintable.update(letters)
                else:
                    self._system_fonts = True
                    self._compiler = self._new_compiler()
        raise NotTypeset(
            f"{lesson['title']}: too many letters that no font here has. Install a font for them."
        )

    def headings(self) -> list[tuple[int, str, str]]:
        """Page (from 1), words and label of each heading of what was typeset before that is of the
        first level or has a label; none where the template's headings cannot be told so."""
        try:
            found = json.loads(self._compiler.eval(_HEADINGS))
        except RuntimeError:  # of which Typst's errors are
            return []
        return [(int(page), str(words), str(label)) for page, words, label in found]

    def pictures(self, data: Mapping[str, object], ppi: float) -> list[bytes]:
        """Every page as PNG, `ppi` pixels to the inch, of what was typeset before."""
        unknown = {ord(letter): "?" for letter in self.unprintable}
        words = json.dumps(data, ensure_ascii=False).translate(unknown)
        made = self._compiler.compile(
            format="png", ppi=ppi, sys_inputs={"lesson": words}, timestamp=CREATION_TIME
        )
        return [made] if isinstance(made, bytes) else made

    def _compile(self, data: str) -> bytes:
        pdf = self._compiler.compile(
            format="pdf",
            sys_inputs={"lesson": data},
            pdf_standards=[STANDARD],
            timestamp=CREATION_TIME,
        )
        assert isinstance(pdf, bytes)  # of the format asked for, and no output file given
        return pdf


_HEADINGS = """query(heading)
  .filter(it => it.level == 1 or it.has("label"))
  .map(it => (
    it.location().page(),
    if it.body.has("text") { it.body.text } else { "" },
    if it.has("label") { str(it.label) } else { "" },
  ))"""

# What Typst says of letters that no font has, where PDF/UA-1 forbids to leave them out.
_NO_LETTER = re.compile(r'the text `"(.+?)"` could not be displayed')
_ESCAPED = re.compile(r"\\u\{([0-9a-f]+)\}")
MOST_UNKNOWN_LETTERS = 100


@cache
def _fonts(system: bool) -> Any:
    import typst

    return typst.Fonts(include_system_fonts=system, font_paths=[str(FONTS)])


def page_count(pdf: bytes) -> int:
    """How many pages a PDF of Typst's has."""
    counts = re.findall(rb"/Type\s*/Pages\b[^>]*?/Count\s+(\d+)", pdf)
    counts += re.findall(rb"/Count\s+(\d+)[^>]*?/Type\s*/Pages\b", pdf)
    return max(map(int, counts), default=1)
