"""`reedwright book`: many tunes bound into one, on paper and as a folder of web pages."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reedwright.cli import choosing, gathering, shelved
from reedwright.cli.output import Progress, print_json
from reedwright.cli.shelflibrary import shelf_library
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.pack.book.model import BookPlan
    from reedwright.pack.book.settling import Usual
    from reedwright.pack.site.settings import SiteSettings
    from reedwright.page.book.model import BookLook

PAPERS = ("a4", "letter", "a5")  # of `BOOK_PAPERS`
CHAPTERS = ("own", "type", "grade", "key", "harp")
ORDERS = ("given", "title", "grade")
LINKS = ("qr", "text", "none")


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "book",
        help="bind tunes into a book: PDF for print and screen, and web pages with sound",
        description="Make a book of tunes: cover, contents, how to read the tab, chapters, every "
        "tune as a lesson has it, indexes, tunes by harp. SOURCE is a plan (.toml, docs/book.md), "
        "or files and folders of tunes, or a list on the shelf (shelf:NAME). Only what has changed "
        "since the last time is done again.",
    )
    command.add_argument("sources", metavar="SOURCE", nargs="+", type=Path)
    command.add_argument("--out", metavar="FILE", type=Path, help="default: book.pdf")
    command.add_argument("--site", metavar="DIR", type=Path, help="also a folder of web pages here")
    command.add_argument(
        "--start-plan", metavar="FILE", type=Path, help="write a plan to be edited, and no book"
    )
    words = command.add_argument_group("without a plan")
    words.add_argument("--title", help="default: Tunes for the ten-hole harmonica")
    words.add_argument("--subtitle")
    words.add_argument("--maker", metavar="NAME", help="who made the book")
    words.add_argument("--chapters", choices=CHAPTERS, help="default: none")
    words.add_argument("--order", choices=ORDERS, help="of the tunes in a chapter (default given)")
    words.add_argument("--address", metavar="URL", help="of the web site with the sound")
    choosing.add_player_option(words)
    choosing.add_ranking_options(words)
    words.add_argument("--amount", choices=choosing.AMOUNTS, help="how much ornament")
    look = command.add_argument_group("how it looks (overrules the plan)")
    look.add_argument("--paper", choices=PAPERS)
    look.add_argument("--style", choices=choosing.STYLES, help="how the tab is written")
    look.add_argument("--colour", action=argparse.BooleanOptionalAction, help="one accent colour")
    look.add_argument("--bleed", type=float, metavar="MM", help="beyond the edge, for a printer")
    look.add_argument("--crop-marks", action=argparse.BooleanOptionalAction)
    look.add_argument("--two-sided", action=argparse.BooleanOptionalAction)
    look.add_argument("--two-to-a-page", action=argparse.BooleanOptionalAction)
    look.add_argument("--links", choices=LINKS, help="to the sound of each tune (default qr)")
    look.add_argument(
        "--full-notes", action=argparse.BooleanOptionalAction, help="chart and notes on playing"
    )
    look.add_argument("--template", metavar="FILE", type=Path, help="a Typst book of your own")
    site = command.add_argument_group("the web pages (with --site)")
    site.add_argument("--slow", type=int, metavar="P", help="slow track in percent (default 60)")
    site.add_argument("--no-sound", action="store_true", help="pages without sound")
    site.add_argument(
        "--downloads",
        metavar="LIST",
        help="of abc, musicxml, midi, pdf; 'none' (default abc,musicxml,midi)",
    )
    site.add_argument("--shop", metavar="WORDS", help="how to get the whole of a tune that is sold")
    site.add_argument("--shop-address", metavar="URL", help="where to get it")
    choosing.add_json_option(command)
    command.set_defaults(run=run, tempo=None, voice=None)


def run(args: argparse.Namespace) -> int:
    with Progress() as progress:
        plan = _plan(args, progress)
    if args.start_plan is not None:
        return _start(args, plan)
    _site_settings(args)  # what is wrong there is told before the work
    from reedwright.pack.book.making import make_book
    from reedwright.pack.book.report import book_report, book_text

    out = args.out or (_plan_file(args) or Path("book.toml")).with_suffix(".pdf")
    with Progress() as progress:
        share = 0.5 if args.site else 1.0
        book = make_book(plan, out, lambda done, doing: progress(share * done, doing))
        site = None
        if args.site is not None:
            from reedwright.pack.site.making import make_site

            site = make_site(
                plan,
                args.site,
                _site_settings(args),
                lambda done, doing: progress(0.5 + 0.5 * done, doing),
            )
    if args.json:
        print_json(book_report(book) | ({"site": site.report()} if site else {}))
    else:
        print(book_text(book))
        if site is not None:
            print(site.text())
    return 1 if book.left_out or choosing.status(args) else 0


def _plan_file(args: argparse.Namespace) -> Path | None:
    plans = [place for place in args.sources if place.suffix.lower() == ".toml"]
    if plans and len(args.sources) > 1:
        raise ReedwrightError(
            f"{plans[0]}: a plan is given alone; the tunes stand in it, or are named by it."
        )
    return plans[0] if plans else None


def _plan(args: argparse.Namespace, progress: Progress) -> BookPlan:
    from reedwright.pack.book.beside import ChoicesBeside
    from reedwright.pack.book.plan import plan_of, read_plan

    path = _plan_file(args)
    if path is not None:
        _no_words_beside(args, path)
        read = read_plan(path, shelf_library())
        for notice in read.notices:
            choosing.tell(notice)
            args.refused = True
        return replace(read.plan, look=_look(args, read.plan.look))
    from reedwright.page.book.model import BookLook

    tunes = list(gathering.gathered(args, args.sources, progress))
    beside = ChoicesBeside(tunes)
    return plan_of(
        tunes,
        args.title or "Tunes for the ten-hole harmonica",
        _usual(args),
        lambda tune: shelved.choices_for(tune) or beside.of(tune),
        by=args.chapters or "own",
        order=args.order or "given",
        look=_look(args, BookLook()),
        maker=args.maker or "",
        subtitle=args.subtitle or "",
    )


def _no_words_beside(args: argparse.Namespace, path: Path) -> None:
    """What a plan says is not said at the command line, too."""
    for name in _IN_PLAN:
        if getattr(args, name):
            option = f"--{name.replace('_', '-')}"
            raise ReedwrightError(
                f"{path}: what {option} says stands in the plan; change it there."
            )


_IN_PLAN = (
    "title", "subtitle", "maker", "chapters", "order", "address", "player", "owned", "any_harp",
    "amount",
)  # fmt: skip


def _usual(args: argparse.Namespace) -> Usual:
    from reedwright.pack.book.settling import Usual
    from reedwright.tab.choices.entries import amount_of

    return Usual(
        choosing.player(args),
        choosing.owned_harps(args),
        None if args.amount is None else amount_of(args.amount),
        base_address=_address(args.address),
    )


def _address(text: str | None) -> str:
    """As the plan's `base_address`. Raises `ReedwrightError`."""
    if text and not text.startswith(("https://", "http://")):
        raise ReedwrightError(f"--address '{text}': give one that begins with https://.")
    return text or ""


def _look(args: argparse.Namespace, look: BookLook) -> BookLook:
    named = {
        "paper": args.paper,
        "tab_style": args.style,
        "colour": args.colour,
        "bleed": args.bleed,
        "crop_marks": args.crop_marks,
        "two_sided": args.two_sided,
        "two_to_a_page": args.two_to_a_page,
        "links": args.links,
        "full_notes": args.full_notes,
        "template": args.template,
    }
    return replace(look, **{key: value for key, value in named.items() if value is not None})


def _site_settings(args: argparse.Namespace) -> SiteSettings:
    from reedwright.pack.site.settings import SiteSettings

    named: dict[str, Any] = {
        "slow": args.slow,
        "shop": args.shop,
        "shop_address": args.shop_address,
        "sound": False if args.no_sound else None,
    }
    if args.downloads is not None:
        parts = tuple(part.strip() for part in args.downloads.split(",") if part.strip())
        named["downloads"] = () if parts == ("none",) else parts
    return SiteSettings(**{key: value for key, value in named.items() if value is not None})


def _start(args: argparse.Namespace, plan: BookPlan) -> int:
    from reedwright.files import write_whole
    from reedwright.pack.book.plantext import plan_text

    if args.start_plan.exists():
        raise ReedwrightError(f"{args.start_plan}: is there already; name another file.")
    write_whole(args.start_plan, plan_text(plan, args.start_plan.parent).encode())
    print(f"A plan of {len(plan.tunes)} tunes is written to {args.start_plan}: edit it, then")
    print(f"  reedwright book {args.start_plan}")
    return choosing.status(args)
