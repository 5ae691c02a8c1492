"""A book between its page and its plan: the file that `reedwright book` reads (docs/book.md).

Tunes are named by their number on the shelf (`shelf:12`), so the plan can be taken along and made
at the command line.

Public: `plan_text`, `asked_from`, `read_back`.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import tomlkit
from pydantic import ValidationError

from reedwright.harp.making import parse_harp
from reedwright.harp.written import harp_text
from reedwright.pack.book.asked import ALL, FEWEST, FORM, Asked, AskedFewest, AskedTune
from reedwright.pack.book.asking import read_asked
from reedwright.pack.book.plantable import PlanError
from reedwright.pack.book.pool import LIBRARY_PREFIX
from reedwright.tab.choices.entries import WRITTEN
from reedwright.tab.ornaments.model import Amount
from reedwright.web.book.asked import BookAsked, ChapterPart, FewestAsked, LookAsked, TunePart
from reedwright.web.music.naming import harp_named, player_named

FIRST_CHAPTER = "Tunes"  # of those that stand before the first chapter's title
_TEXTS = ("title", "subtitle", "maker", "rights", "base_address", "player", "amount")


def plan_text(asked: BookAsked, owned: Sequence[str]) -> str:
    """As TOML. `owned`: the harps on the shelf, as texts. Raises as `harp_named`
    and `player_named`."""
    if asked.player.strip():
        player_named(asked.player.strip())
    plan = tomlkit.document()
    plan["form"] = FORM
    for key in _TEXTS:
        if value := " ".join(getattr(asked, key).split()):
            plan[key] = value
    for key, values in (
        ("preface", _paragraphs(asked.preface)),
        ("imprint", _lines(asked.imprint)),
        ("credits", _lines(asked.credits)),
    ):
        if values:
            plan[key] = _array(values)
    if asked.harps in (ALL, FEWEST):
        plan["harps"] = asked.harps
    elif asked.harps:
        named = owned if asked.harps == "shelf" else asked.named_harps
        plan["harps"] = [harp_text(harp_named(each)) for each in named if each.strip()]
    if asked.second_time:
        plan["second_time"] = True
    if asked.chapters != "own":
        plan["chapters"] = asked.chapters
    if asked.order != "given":
        plan["order"] = asked.order
    chapters = _chapters(asked)
    if len(chapters) == 1 and not chapters[0][0]:
        plan["tunes"] = _tunes(chapters[0][2])
    if asked.harps == FEWEST:
        plan["fewest"] = _fewest(asked.fewest, owned)
    plan["look"] = _look(asked.look)
    if "tunes" not in plan:
        tables = tomlkit.aot()
        for title, words, tunes in chapters:
            table = tomlkit.table()
            table["title"] = title or FIRST_CHAPTER
            if words:
                table["words"] = words
            table["tunes"] = _tunes(tunes)
            tables.append(table)
        plan["chapter"] = tables
    return tomlkit.dumps(plan)


def _chapters(asked: BookAsked) -> list[tuple[str, str, list[TunePart]]]:
    """Title, words and tunes; one without a title where there are no chapters, or others make
    them."""
    found: list[tuple[str, str, list[TunePart]]] = [("", "", [])]
    for part in asked.parts:
        if isinstance(part, TunePart):
            found[-1][2].append(part)
        elif asked.chapters == "own":
            title = " ".join(part.title.split()) or "Chapter"
            found.append((title, part.words.strip(), []))
    return found[1:] if len(found) > 1 and not found[0][2] else found


def _tunes(parts: Sequence[TunePart]) -> Any:
    entries = []
    for part in parts:
        entry = tomlkit.inline_table()
        entry["tune"] = f"{LIBRARY_PREFIX}{part.tune}"
        if part.harp.strip():
            entry["harp"] = harp_text(harp_named(part.harp))
        if part.words.strip():
            entry["words"] = " ".join(part.words.split())
        if part.sold:
            entry["sold"] = True
        entries.append(entry)
    return _array(entries)


def _array(values: Sequence[Any]) -> Any:
    array = tomlkit.array()
    array.extend(values)
    return array.multiline(len(values) > 1)


def _fewest(fewest: FewestAsked, owned: Sequence[str]) -> dict[str, Any]:
    found: dict[str, Any] = {"above_best": fewest.above_best, "no_bends": fewest.no_bends}
    if fewest.most is not None:
        found["most"] = fewest.most
    if fewest.owned_free:
        found |= {"owned": [harp_text(parse_harp(each)) for each in owned], "owned_counts": 0.0}
    return found


def _look(look: LookAsked) -> dict[str, Any]:
    values = look.model_dump()
    return {"style" if key == "tab_style" else key: value for key, value in values.items()}


def _paragraphs(text: str) -> list[str]:
    blocks = "\n".join(line.strip() for line in text.splitlines()).split("\n\n")
    return [" ".join(block.split()) for block in blocks if block.strip()]


def _lines(text: str) -> list[str]:
    return [" ".join(line.split()) for line in text.splitlines() if line.strip()]


@contextmanager
def as_file(text: str) -> Iterator[Path]:
    """The plan in a file of its own, which is gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="reedwright-book-") as folder:
        path = Path(folder) / "book.toml"
        path.write_text(text, "utf-8")
        yield path


def read_back(text: str, owned: Sequence[str]) -> BookAsked:
    """The book that a plan says. Raises `PlanError`."""
    with as_file(text) as path:
        return asked_from(read_asked(path), owned)


def asked_from(plan: Asked, owned: Sequence[str]) -> BookAsked:
    """`owned`: the harps on the shelf, as texts. Raises `PlanError` for what no page can have."""
    parts: list[TunePart | ChapterPart] = []
    for chapter in plan.chapters:
        parts.append(ChapterPart(kind="chapter", title=chapter.title, words=chapter.words))
        parts += _parts(chapter.tunes or ())
    parts += _parts(plan.tunes or ())
    values = {
        "title": plan.title,
        "subtitle": plan.subtitle,
        "maker": plan.maker,
        "preface": "\n\n".join(plan.preface),
        "imprint": "\n".join(plan.imprint),
        "rights": plan.rights,
        "credits": "\n".join(plan.credits),
        "base_address": plan.base_address,
        "player": plan.player,
        "fewest": _fewest_asked(plan.fewest),
        "amount": _word(plan.amount),
        "second_time": plan.second_time,
        "chapters": plan.by,
        "order": plan.order,
        "look": {name: getattr(plan.look, name) for name in LookAsked.model_fields},
        "parts": parts,
        **_harps(plan, owned),
    }
    try:
        return BookAsked.model_validate(values)
    except ValidationError as error:
        first = error.errors()[0]
        where = " ".join(str(each) for each in first["loc"])
        raise PlanError(
            f"The plan of '{plan.title}' can't be shown: {where}: {first['msg']}."
        ) from None


def _parts(tunes: Sequence[AskedTune]) -> list[TunePart]:
    found = []
    for each in tunes:
        number = each.tune.removeprefix(LIBRARY_PREFIX)
        if number.isdecimal():
            said = each.overrides
            found.append(
                TunePart(
                    kind="tune",
                    tune=int(number),
                    harp=said.harp,
                    words=said.words,
                    sold=bool(said.sold),
                )
            )
    return found


def _harps(plan: Asked, owned: Sequence[str]) -> Mapping[str, Any]:
    said = plan.harps
    if isinstance(said, str):
        return {"harps": said if said in (ALL, FEWEST) else ""}
    if said and list(said) == list(owned):
        return {"harps": "shelf"}
    return {"harps": "named", "named_harps": list(said)}


def _fewest_asked(fewest: AskedFewest | None) -> FewestAsked:
    if fewest is None:
        return FewestAsked()
    usual = FewestAsked().above_best
    return FewestAsked(
        above_best=usual if fewest.above_best is None else fewest.above_best,
        most=fewest.most,
        no_bends=fewest.no_bends,
        owned_free=not fewest.owned_counts,
    )


def _word(amount: Amount | None) -> str:
    if amount is None:
        return ""
    return WRITTEN if amount is Amount.WRITTEN else amount.value
