"""The web folder made: a page for each tune with its sound, contents, indexes, for any server.

Public: `make_site`, `Site`, `NoPages`, `WholeTuneThere`, `NotOurs`.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reedwright.errors import ReedwrightError
from reedwright.folders.manifest import MANIFEST_NAME, manifest
from reedwright.folders.placing import built_aside
from reedwright.pack.book.credits import book_cautions
from reedwright.pack.book.crew import Failed, worked_out
from reedwright.pack.book.fewest import on_fewest_harps
from reedwright.pack.book.making import MOST_WORKERS, content_of, made_all
from reedwright.pack.book.model import BookPlan
from reedwright.pack.book.settling import PAGES_OF_SITES
from reedwright.pack.book.stock import Stock, stock_folder
from reedwright.pack.site.settings import SiteSettings
from reedwright.pack.site.tunepage import Task, TunePage, sound_key, work
from reedwright.page.book.indexes import indexes
from reedwright.page.book.model import BookContent, TuneEntry
from reedwright.page.press import FONTS
from reedwright.processes import cores

HERE = Path(__file__).parent
WEB_FONTS = HERE.parents[1] / "page" / "webfonts"
SHARE_OF_ENTRIES, SHARE_OF_PAGES = 0.3, 0.65
ENDINGS = ("abc", "musicxml", "mid", "pdf")  # of the files in which a tune can be had whole
STATIC = ("style.css", "search.js")

Report = Callable[[float, str], None]  # the share done, and what is being done


@dataclass(frozen=True, slots=True)
class Site:
    """A finished folder. `pages` counts tunes; `left_out`: title and reason of those without."""

    folder: Path
    pages: int
    left_out: tuple[tuple[str, str], ...]
    bytes: int

    def report(self) -> dict[str, object]:
        """JSON-ready."""
        return {
            "folder": str(self.folder),
            "tunes": self.pages,
            "bytes": self.bytes,
            "left_out": [{"title": title, "reason": reason} for title, reason in self.left_out],
        }

    def text(self) -> str:
        many = f"{self.pages} tune{'' if self.pages == 1 else 's'}"
        lines = [f"Web pages of {many} in {self.folder} ({self.bytes / 1e6:.1f} MB)."]
        lines += [f"  left out: {title}: {reason}" for title, reason in self.left_out]
        lines.append(f"Open {self.folder / 'index.html'}; put the whole folder on your site.")
        return "\n".join(lines)


class WholeTuneThere(ReedwrightError):
    """A file of a whole tune that is sold, in the folder, and not known to be ours to replace."""


class NotOurs(ReedwrightError):
    """A file of the user's own has the name of one that would be written."""


class NoPages(ReedwrightError):
    """A web folder of which no page could be made."""


def make_site(
    plan: BookPlan,
    to: Path,
    settings: SiteSettings | None = None,
    progress: Report = lambda share, doing: None,
    keep: Path | None = None,
    workers: int | None = None,
) -> Site:
    """Write the folder `to`, built aside and moved into place whole.

    Sound that the folder has already is kept where nothing that it depends on has changed. The
    same plan and settings give the same bytes. `keep`, `workers` as for `make_book`. A tune that
    cannot be made is left out and told. Raises `NoPages` where none is left, `WholeTuneThere`,
    `NotOurs`, `NotWritten`.
    """
    chosen = settings or SiteSettings()
    _refuse_whole_tunes(plan, to)
    stock = Stock(keep or stock_folder())
    if workers is None:
        workers = min(cores(), MOST_WORKERS)
    plan, _ = on_fewest_harps(plan, stock, workers)
    made, left, _ = made_all(
        plan, stock, lambda share, doing: progress(SHARE_OF_ENTRIES * share, doing), workers
    )
    left_out = [(each.title, each.reason) for each in left]
    with built_aside(to.parent, to.name) as folder:
        earlier, keys = _sound_there(to)
        tasks, new_keys = [], {}
        for planned in plan.tunes:
            if planned.name not in made:
                continue
            key = sound_key(planned, chosen)
            new_keys[planned.name] = key
            same = keys.get(planned.name) == key
            tasks.append(
                Task(planned, chosen, folder, earlier if same else folder, plan.look.tab_style)
            )
        pages: dict[str, TunePage] = {}
        for done, (place, result) in enumerate(worked_out(work, tasks, workers), start=1):
            if isinstance(result, Failed):
                left_out.append((tasks[place].planned.tune.title, result.message))
            else:
                pages[result.name] = result
            share = SHARE_OF_ENTRIES + SHARE_OF_PAGES * done / len(tasks)
            progress(share, f"pages and sound, {done} of {len(tasks)}")
        if not pages:
            raise NoPages(
                "No page could be made: "
                + "; ".join(f"{title}: {reason}" for title, reason in left_out[:3])
            )
        content = content_of(plan, {name: made[name] for name in made if name in pages})
        files = _write_pages(folder, content, pages, chosen)
        _write_manifest(folder, files, plan, new_keys, chosen)
        _refuse_to_overwrite(folder, to)
    size = sum(path.stat().st_size for path in to.rglob("*") if path.is_file())
    return Site(to, len(pages), tuple(left_out), size)


def _ours(to: Path) -> set[str]:
    """The files that an earlier run put into the folder."""
    try:
        listed = json.loads((to / MANIFEST_NAME).read_text("utf-8"))["files"]
        return {MANIFEST_NAME, *(str(file["name"]) for file in listed)}
    except (OSError, ValueError, LookupError, TypeError):
        return set()


def _refuse_to_overwrite(folder: Path, to: Path) -> None:
    """What users put into the folder is not written over by a page that has the same name."""
    ours = _ours(to)
    for path in sorted(folder.iterdir()):
        there = to / path.name
        if path.name not in ours and there.exists():
            raise NotOurs(
                f"{there}: is there already, and no earlier run put it there. Choose another "
                "folder, or move the file away."
            )


def _refuse_whole_tunes(plan: BookPlan, to: Path) -> None:
    """What users put into the folder stays there; a tune that is sold must not be among it."""
    ours = _ours(to)
    for planned in plan.tunes:
        for ending in ENDINGS if planned.sold else ():
            path = to / f"{planned.name}.{ending}"
            if path.name not in ours and path.exists():
                raise WholeTuneThere(
                    f"{path}: '{planned.tune.title}' is sold, and this may be the whole of it. "
                    "Move the file away and make the pages again."
                )


def _sound_there(folder: Path) -> tuple[Path, Mapping[str, str]]:
    """The folder as it is, and of what the sound in it was made, by the names of tunes."""
    try:
        known = json.loads((folder / MANIFEST_NAME).read_text("utf-8"))
        harmed = {
            str(file["name"]).split(".")[0]
            for file in known["files"]
            if str(file["name"]).endswith(".mp3") and not _is(folder / file["name"], file["sha256"])
        }
        return folder, {
            str(name): str(key) for name, key in known["sound"].items() if name not in harmed
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return folder, {}


def _is(path: Path, sha256: str) -> bool:
    """Whether a file is to the byte what it was."""
    return path.is_file() and hashlib.sha256(path.read_bytes()).hexdigest() == sha256


def _write_manifest(
    folder: Path,
    files: Mapping[str, str],
    plan: BookPlan,
    keys: Mapping[str, str],
    settings: SiteSettings,
) -> None:
    about: dict[str, object] = {"title": plan.title, "sound": dict(keys)}
    chosen: dict[str, object] = {
        "slow_percent": settings.slow,
        "sound": settings.sound,
        "downloads": list(settings.downloads),
    }
    (folder / MANIFEST_NAME).write_bytes(manifest(folder, files, about, chosen))


def _write_pages(
    folder: Path, content: BookContent, pages: Mapping[str, TunePage], settings: SiteSettings
) -> dict[str, str]:
    """Every page and what it needs; what each file is, by name."""
    import shutil

    found: dict[str, str] = {}
    for name in STATIC:
        shutil.copyfile(HERE / "static" / name, folder / name)
        found[name] = "how the pages look" if name.endswith(".css") else "finds titles"
    for font in sorted([*WEB_FONTS.iterdir(), *FONTS.iterdir()]):
        shutil.copyfile(font, folder / font.name)
        found[font.name] = "a typeface" if font.suffix != ".txt" else "licence of a typeface"
    environment = _environment()
    order = [entry.name for entry in content.tunes]
    lists = indexes(content.tunes)
    common = {"book": content, "lists": lists, "addresses": _addresses(order), "settings": settings}
    whole = {
        "index.html": ("start.html", "the start page: open it"),
        "indexes.html": ("indexes.html", "tunes by title, type, key, harp and first notes"),
        "about.html": ("about.html", "how to read the tab, cautions, rights"),
    }
    signs = dict.fromkeys(sign for name in order for sign in pages[name].signs)
    for file, (template, what) in whole.items():
        text = environment.get_template(template).render(
            **common,
            harps=_harps(content.tunes),
            signs=list(signs),
            cautions=book_cautions(content.tunes),
        )
        (folder / file).write_text(text, "utf-8", newline="\n")
        found[file] = what
    entries = {entry.name: entry for entry in content.tunes}
    for place, name in enumerate(order):
        page = pages[name]
        text = environment.get_template("tune.html").render(
            **common,
            page=page,
            before=entries[order[place - 1]] if place else None,
            after=entries[order[place + 1]] if place + 1 < len(order) else None,
        )
        (folder / _addresses(order)[name]).write_text(text, "utf-8", newline="\n")
        found[_addresses(order)[name]] = f"page of {page.title}"
        for file, what in (*page.sound, *page.files):
            found[file] = f"{page.title}, {what}"
    return found


def _addresses(names: Sequence[str]) -> dict[str, str]:
    """The file of each tune's page. One called as a page of ours is called otherwise."""
    return {
        name: f"{name}-tune.html" if name in PAGES_OF_SITES else f"{name}.html" for name in names
    }


def _harps(tunes: Sequence[TuneEntry]) -> list[tuple[str, int]]:
    """Each harp with how many tunes it plays, most first."""
    counts: dict[str, int] = {}
    for tune in tunes:
        counts[tune.harp] = counts.get(tune.harp, 0) + 1
    return sorted(counts.items(), key=lambda item: (-item[1], item[0]))


def _environment() -> Any:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["drawing"] = Markup  # SVG of our own making; its words are escaped
    return environment
