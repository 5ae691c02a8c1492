"""A plan written as TOML, for people to go on from; `read_plan` reads it again as it was.

Choices for single notes are not written: they stay in their own file beside the tunes, which is
found again. Of the player the profile's name is written.

Public: `plan_text`.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TypeVar

from reedwright.harp.written import harp_text
from reedwright.pack.book.asked import ALL, FEWEST, FORM
from reedwright.pack.book.model import BookPlan, FewestHarps, PlannedChapter, PlannedTune
from reedwright.pack.book.pool import LIBRARY_PREFIX
from reedwright.pack.book.settling import address_of
from reedwright.page.book.model import BookLook
from reedwright.tab.ornaments.model import Amount
from reedwright.tune.model import Tune

Value = TypeVar("Value")

_HEAD = """\
# A plan of a book for `reedwright book`. Every key but 'title' may be left out.
# Tunes are named by title or number; docs/book.md tells of all that can be said.
"""


def plan_text(plan: BookPlan, folder: Path | None = None) -> str:
    """The plan as TOML. `folder`: where the file is to stand; tunes' files are named from there."""
    usual = _Usual(plan, folder or Path.cwd())
    lines = [_HEAD, f"form = {FORM}", f"title = {_text(plan.title)}"]
    lines += [
        f"{key} = {_text(value)}"
        for key, value in (
            ("subtitle", plan.subtitle),
            ("maker", plan.maker),
            ("rights", plan.rights),
            ("base_address", plan.base_address),
        )
        if value
    ]
    lines += [
        f"{key} = {_list(values)}"
        for key, values in (
            ("preface", plan.preface),
            ("imprint", plan.imprint),
            ("credits", plan.credits),
        )
        if values
    ]
    lines += usual.lines()
    own = plan.by == "own" and any(chapter.title for chapter in plan.chapters)
    if plan.by != "own":
        lines.append(f"chapters = {_text(plan.by)}")
    if plan.order != "given":
        lines.append(f"order = {_text(plan.order)}")
    if not own:
        lines += ["tunes = [", *(usual.entry(tune) for tune in plan.tunes), "]"]
    lines += _fewest(plan.fewest)
    lines += _look(plan.look, usual.folder)
    if own:
        for chapter in plan.chapters:
            lines += _chapter(chapter, usual)
    return "\n".join(lines) + "\n"


class _Usual:
    """What most tunes have in common, which is said once; and each tune's own line."""

    def __init__(self, plan: BookPlan, folder: Path) -> None:
        self.folder = folder
        self.base = plan.base_address
        self.fewest = plan.fewest is not None
        tunes = plan.tunes
        self.player = _most([tune.player.name for tune in tunes])
        self.harps = _most([tune.harps for tune in tunes if tune.harp is None])
        self.amount = _most([tune.wishes.amount for tune in tunes]) or Amount.WRITTEN
        self.second_time = bool(_most([tune.wishes.second_time for tune in tunes]))
        files = dict.fromkeys(self._file(tune.tune) for tune in tunes)
        self.sources = [file for file in files if file and not file.startswith(LIBRARY_PREFIX)]
        self.twice = {
            name for name, count in Counter(tune.tune.title for tune in tunes).items() if count > 1
        }

    def lines(self) -> list[str]:
        found = [f"sources = {_list(self.sources)}"] if self.sources else []
        if self.player:
            found.append(f"player = {_text(self.player)}")
        if self.fewest:
            found.append(f"harps = {_text(FEWEST)}")
        elif self.harps is None:
            found.append(f"harps = {_text(ALL)}")
        else:
            found.append(f"harps = {_list([harp_text(harp) for harp in self.harps])}")
        if self.amount is not Amount.WRITTEN:
            found.append(f"amount = {_text(_amount(self.amount))}")
        if self.second_time:
            found.append("second_time = true")
        return found

    def entry(self, planned: PlannedTune) -> str:
        """`{ tune = "The Ferry", number = "12", harp = "G" },`"""
        tune = planned.tune
        file = self._file(tune)
        shelved = file.startswith(LIBRARY_PREFIX)
        said: list[tuple[str, str]] = [("tune", _text(file if shelved else tune.title))]
        if not shelved:
            if tune.number:
                said.append(("number", _text(tune.number)))
            if file and len(self.sources) > 1:
                said.append(("file", _text(file)))
        said += self._own(planned)
        comment = f"  # {' '.join(tune.title.split())}" if shelved else ""
        return f"    {{ {', '.join(f'{key} = {value}' for key, value in said)} }},{comment}"

    def _own(self, planned: PlannedTune) -> list[tuple[str, str]]:
        wishes = planned.wishes
        said = []
        if planned.harp is not None:
            said.append(("harp", _text(harp_text(planned.harp))))
        for key, value in (("octave", planned.octaves), ("semitones", planned.semitones or None)):
            if value is not None:
                said.append((key, str(value)))
        if planned.voice:
            said.append(("voice", str(planned.voice + 1)))
        if planned.tempo is not None:
            said.append(("tempo", f"{planned.tempo:g}"))
        if wishes.amount is not self.amount:
            said.append(("amount", _text(_amount(wishes.amount))))
        if wishes.second_time is not self.second_time:
            said.append(("second_time", _flag(wishes.second_time)))
        if planned.player.name != self.player:
            said.append(("player", _text(planned.player.name)))
        if planned.words:
            said.append(("words", _text(planned.words)))
        if planned.address != address_of(self.base, planned.name):
            said.append(("address", _text(planned.address)))
        if planned.sold:
            said.append(("sold", "true"))
        return said

    def _file(self, tune: Tune) -> str:
        if not tune.source or tune.source.startswith(LIBRARY_PREFIX):
            return tune.source
        return Path(os.path.relpath(tune.source, self.folder)).as_posix()


def _most(values: Sequence[Value]) -> Value | None:
    """The commonest, of equals the first; None of none."""
    counts = Counter(values)
    return max(counts, key=lambda value: counts[value]) if counts else None


def _chapter(chapter: PlannedChapter, usual: _Usual) -> list[str]:
    lines = ["", "[[chapter]]", f"title = {_text(chapter.title or 'Tunes')}"]
    if chapter.words:
        lines.append(f"words = {_text(chapter.words)}")
    return [*lines, "tunes = [", *(usual.entry(tune) for tune in chapter.tunes), "]"]


def _fewest(fewest: FewestHarps | None) -> list[str]:
    if fewest is None:
        return []
    limit, wishes = fewest.limit, fewest.wishes
    lines = ["", "[fewest]"]
    for key, harps in (
        ("harps", fewest.harps or ()),
        ("must", wishes.must),
        ("never", wishes.never),
    ):
        if harps:
            lines.append(f"{key} = {_list([harp_text(harp) for harp in harps])}")
    lines.append(f"owned = {_list([harp_text(harp) for harp in wishes.owned])}")
    lines.append(f"owned_counts = {wishes.owned_counts:g}")
    for key, number in (
        ("effort", limit.per_note),
        ("above_best", limit.above_best),
        ("most", wishes.most),
        ("most_odd", wishes.most_odd),
    ):
        if number is not None:
            lines.append(f"{key} = {number:g}")
    lines.append(f"no_bends = {_flag(limit.no_bends)}")
    lines.append(f"odd = {_flag(wishes.odd)}")
    return [*lines, f"registers = {_list(wishes.registers)}"]


def _look(look: BookLook, folder: Path) -> list[str]:
    lines = [
        "",
        "[look]",
        f"paper = {_text(look.paper)}",
        f"style = {_text(look.tab_style)}",
        f"colour = {_flag(look.colour)}",
        f"bleed = {look.bleed:g}",
        f"crop_marks = {_flag(look.crop_marks)}",
        f"two_sided = {_flag(look.two_sided)}",
        f"two_to_a_page = {_flag(look.two_to_a_page)}",
        f"links = {_text(look.links)}",
        f"full_notes = {_flag(look.full_notes)}",
    ]
    if look.template is not None:
        template = Path(os.path.relpath(look.template, folder)).as_posix()
        lines.append(f"template = {_text(template)}")
    return lines


def _amount(amount: Amount) -> str:
    return "written" if amount is Amount.WRITTEN else amount.value


def _flag(value: bool) -> str:
    return "true" if value else "false"


def _list(values: Sequence[str]) -> str:
    if len(values) <= 1 or sum(map(len, values)) < 70:
        return f"[{', '.join(_text(value) for value in values)}]"
    return "\n".join(["[", *(f"    {_text(value)}," for value in values), "]"])


def _text(value: str) -> str:
    """A text of TOML in one line, in quotation marks."""
    import tomlkit

    return tomlkit.string(value).as_string()
