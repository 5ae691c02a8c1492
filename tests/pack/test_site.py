"""A book as web pages: whole, safe to put anywhere, and of what is sold the first part alone."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urldefrag

import pytest

from reedwright.pack.book.model import BookPlan, PlannedTune
from reedwright.pack.book.plan import plan_of
from reedwright.pack.book.settling import Usual
from reedwright.pack.site.making import Site, WholeTuneThere, make_site
from reedwright.pack.site.preview import first_part, wishes_within
from reedwright.pack.site.settings import DOWNLOADS, SiteSettings
from reedwright.player.loading import load_profile
from reedwright.tab.wishes import Wishes
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes
from reedwright.tune.refused import Refused
from reedwright.tune.unfold import unfold

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"
SILENT = SiteSettings(sound=False)


def read(text: str) -> Tune:
    (tune,) = read_abc(text)
    assert not isinstance(tune, Refused)
    return tune


def tunes() -> list[Tune]:
    return [tune for tune in read_tunes(EXAMPLES) if not isinstance(tune, Refused)]


def plan(known: list[Tune], **words: str) -> BookPlan:
    return plan_of(known, words.pop("title", "Seven Tunes"), Usual(load_profile("player")), **words)


def with_tunes(book: BookPlan, *changed: PlannedTune) -> BookPlan:
    (chapter,) = book.chapters
    return replace(book, chapters=(replace(chapter, tunes=changed),))


def made(book: BookPlan, tmp_path: Path, settings: SiteSettings = SILENT, to: str = "site") -> Site:
    return make_site(book, tmp_path / to, settings, keep=tmp_path / "stock", workers=0)


class Page(HTMLParser):
    """Links, ids, headings and what is asked for from elsewhere, of one page."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.links: list[str] = []
        self.ids: list[str] = []
        self.headings: list[int] = []
        self.scripts = 0
        self.inline: list[str] = []
        self.feed(path.read_text("utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if name in ("href", "src") and value:
                self.links.append(value)
            elif name == "id" and value:
                self.ids.append(value)
            elif name.startswith("on") or name == "style":
                self.inline.append(f"{tag} {name}")
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag == "script" and not dict(attrs).get("src"):
            self.inline.append("script")
        if tag == "style":
            self.inline.append("style")


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(plan(tunes(), maker="Ann Other"), tmp_path_factory.mktemp("site")).folder


def test_every_link_leads_to_something_and_none_leads_away(site: Path) -> None:
    pages = {path.name: Page(path) for path in site.glob("*.html")}
    assert len(pages) == 7 + 3
    for name, page in pages.items():
        for link in page.links:
            file, part = urldefrag(unquote(link))
            assert "//" not in link, f"{name}: {link}"
            assert (site / (file or name)).is_file(), f"{name}: {link}"
            if part:
                assert part in pages.get(file or name, page).ids, f"{name}: {link}"
    for style in site.glob("*.css"):
        for address in re.findall(r"url\(\"([^\"]+)\"\)", style.read_text("utf-8")):
            assert (site / address).is_file(), address


def test_pages_can_be_shown_under_a_strict_policy(site: Path) -> None:
    for path in site.glob("*.html"):
        page = Page(path)
        assert page.inline == [], path.name
        assert "default-src 'none'" in path.read_text("utf-8")


def test_ids_are_one_of_a_kind_and_headings_in_order(site: Path) -> None:
    for path in site.glob("*.html"):
        page = Page(path)
        assert len(page.ids) == len(set(page.ids)), path.name
        assert page.headings[0] == 1 and page.headings.count(1) == 1
        assert all(b - a <= 1 for a, b in zip(page.headings, page.headings[1:], strict=False))


def test_every_tune_stands_on_the_start_page_and_in_the_indexes(site: Path) -> None:
    start, lists = ((site / name).read_text("utf-8") for name in ("index.html", "indexes.html"))
    for path in site.glob("*.html"):
        if path.stem not in ("index", "indexes", "about"):
            assert f'href="{path.name}"' in start
            assert lists.count(f'href="{path.name}"') >= 3


def test_music_is_told_in_words_to_those_who_hear_the_page(site: Path) -> None:
    text = (site / "the-reedmakers-latch.html").read_text("utf-8")
    systems = re.findall(r"<svg\b[^>]*viewBox[^>]*>", text)
    told = [tag for tag in systems if 'role="img"' in tag]
    assert all('aria-label="' in tag for tag in told)
    assert all('aria-hidden="true"' in tag for tag in systems if tag not in told)
    assert "four blow" in text  # the tab in words


def test_titles_and_words_from_outside_are_text_and_nothing_else(tmp_path: Path) -> None:
    evil = '<script>alert("x")</script>'
    tune = read(f"X:1\nT:{evil}\nC:{evil}\nR:reel\nN:{evil}\nM:4/4\nK:G\nGABc dBGB|G8|]\n")
    book = plan([tune], title=evil, maker=evil)
    book = with_tunes(book, replace(book.tunes[0], words=evil))
    folder = made(book, tmp_path).folder
    for path in folder.glob("*.html"):
        text = path.read_text("utf-8")
        assert "<script>alert" not in text and Page(path).inline == []
        assert "&lt;script&gt;" in text


def test_a_tune_called_as_a_page_of_ours_has_a_page_of_its_own(tmp_path: Path) -> None:
    tune = read("X:1\nT:Index\nR:reel\nM:4/4\nK:G\nGABc dBGB|G8|]\n")
    book = plan([tune])
    folder = made(with_tunes(book, replace(book.tunes[0], name="index")), tmp_path).folder
    assert "GABc" in (folder / "index.abc").read_text("utf-8")
    assert 'href="index-tune.html"' in (folder / "index.html").read_text("utf-8")


def test_the_same_plan_gives_the_same_bytes_and_sound_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tune = read("X:1\nT:Short\nR:reel\nM:4/4\nK:G\nGABc dBGB|G8|]\n")
    first = made(plan([tune]), tmp_path, SiteSettings()).folder
    before = {path.name: path.read_bytes() for path in first.iterdir()}
    assert {"short.mp3", "short.slow.mp3"} <= set(before)
    rendered: list[object] = []
    from reedwright.sound import rendering

    real = rendering.render_tracks
    monkeypatch.setattr(
        rendering, "render_tracks", lambda *a, **k: (rendered.append(a), real(*a, **k))[1]
    )
    again = made(plan([tune]), tmp_path, SiteSettings()).folder
    assert {path.name: path.read_bytes() for path in again.iterdir()} == before
    assert not rendered
    other = read("X:1\nT:Short\nR:reel\nM:4/4\nK:G\nGABc dBGB|A8|]\n")
    made(plan([other]), tmp_path, SiteSettings())
    assert len(rendered) == 1


FIRST, SECOND = "GABc dBGB|G4 D4", "gfed cBAG|F4 e4"


@pytest.mark.parametrize(
    ("music", "bars"),
    [
        (f"|:{FIRST}:|:{SECOND}:|", 2),
        (f"|:{FIRST}|1 A8:|2 B8|:{SECOND}|1 e8:|2 f8|]", 4),
        (f"D2|:{FIRST}:|:{SECOND}:|", 3),
        (f"{FIRST}|{SECOND}|]", 2),
    ],
)
def test_the_first_part_ends_where_the_tunes_first_part_does(music: str, bars: int) -> None:
    tune = read(f"X:1\nT:t\nR:reel\nM:4/4\nL:1/8\nK:G\n{music}\n")
    cut = first_part(tune)
    assert len(cut.bars) == bars
    assert cut.bars[:-1] == tune.bars[: bars - 1]
    assert cut.text == "" and unfold(cut).notes


@pytest.mark.parametrize("second_time", [False, True])
def test_choices_beyond_the_first_part_do_not_keep_a_sold_tune_from_its_page(
    tmp_path: Path, second_time: bool
) -> None:
    tune = read(f"X:1\nT:Sold\nR:reel\nM:4/4\nL:1/8\nK:G\n|:{FIRST}:|:{SECOND}:|\n")
    ids = [note.id for note in tune.voices[0].notes]
    wishes = Wishes(breaths={ids[4]: True, ids[-3]: True}, second_time=second_time)
    book = plan([tune])
    book = with_tunes(book, replace(book.tunes[0], sold=True, wishes=wishes))
    site = made(book, tmp_path)
    assert site.left_out == ()
    kept = wishes_within(wishes, first_part(tune))
    assert kept.breaths == {ids[4]: True} and kept.second_time == second_time


def test_a_tune_that_comes_to_be_sold_takes_its_files_with_it(tmp_path: Path) -> None:
    tune = read(f"X:1\nT:Sold\nR:reel\nM:4/4\nL:1/8\nK:G\n|:{FIRST}:|:{SECOND}:|\n")
    book = plan([tune])
    every = SiteSettings(sound=False, downloads=DOWNLOADS)
    folder = made(book, tmp_path, every).folder
    (folder / "mine.txt").write_text("the site keeper's own")
    kinds = {"sold.abc", "sold.mid", "sold.musicxml", "sold.pdf"}
    assert kinds <= {path.name for path in folder.iterdir()}
    made(with_tunes(book, replace(book.tunes[0], sold=True)), tmp_path, every)
    assert {p.name for p in folder.iterdir() if p.stem == "sold"} == {"sold.html"}
    assert (folder / "mine.txt").is_file()
    (folder / "sold.abc").write_text("put there by hand")
    with pytest.raises(WholeTuneThere, match="Move the file away"):
        made(with_tunes(book, replace(book.tunes[0], sold=True)), tmp_path, every)


def test_words_are_dark_enough_on_paper_and_light_enough_at_night(site: Path) -> None:
    """Contrast by WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1."""
    style = (site / "style.css").read_text("utf-8")
    schemes = [
        dict(re.findall(r"--(\w+): #([0-9a-f]{6})", block))
        for block in re.findall(r":root \{([^}]*)\}", style)
    ]
    assert len(schemes) == 2
    for colours in schemes:
        for name in ("ink", "quiet", "accent"):
            assert contrast(colours[name], colours["paper"]) >= 4.5, name


def contrast(one: str, other: str) -> float:
    """Relative luminance and contrast ratio as WCAG 2.2 defines them."""

    def luminance(colour: str) -> float:
        parts = [int(colour[k : k + 2], 16) / 255 for k in (0, 2, 4)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_of_a_sold_tune_the_second_part_is_nowhere(tmp_path: Path) -> None:
    """The second part alone has words that are sung to it; the first has nine notes."""
    tune = read(
        "X:1\nT:Sold\nR:reel\nM:4/4\nL:1/8\nK:C\n|:CDEG EDCD|C8:|\n"
        "|:_BA_BA GEDE|C8:|\nw:the se-cret of it all so fine\nW:the whole secret\n"
    )
    book = plan([tune])
    whole = made(with_tunes(book, replace(book.tunes[0], sold=False)), tmp_path, to="whole").folder
    folder = made(
        with_tunes(book, replace(book.tunes[0], sold=True)),
        tmp_path,
        SiteSettings(shop_address="https://example.org/shop"),
    ).folder
    assert not [path for path in folder.iterdir() if path.suffix in (".abc", ".mid", ".musicxml")]
    everything = "".join(
        path.read_text("utf-8") for path in folder.glob("*") if path.suffix in (".html", ".json")
    )
    for sign in ("secret", "se-cret"):
        assert sign not in everything
    heads = [
        len(re.findall(r'class="notehead"', (place / "sold.html").read_text("utf-8")))
        for place in (folder, whole)
    ]
    assert heads == [2 * 9, 2 * (9 + 9)]  # for wide screens and for phones
    for place in (folder, whole):
        assert "<em>Form</em> AABB" in (place / "sold.html").read_text("utf-8")
    assert 'href="https://example.org/shop"' in everything
    seconds = [len((folder / name).read_bytes()) for name in ("sold.mp3", "sold.slow.mp3")]
    full = made(with_tunes(book, book.tunes[0]), tmp_path, SiteSettings(), to="full").folder
    assert all(
        a < 0.7 * b
        for a, b in zip(
            seconds,
            (len((full / name).read_bytes()) for name in ("sold.mp3", "sold.slow.mp3")),
            strict=True,
        )
    )


def test_a_page_of_the_users_own_is_not_written_over(tmp_path: Path) -> None:
    from reedwright.pack.site.making import NotOurs

    own = tmp_path / "site" / "index.html"
    own.parent.mkdir()
    own.write_text("mine", "utf-8")
    book = plan([read("X:1\nT:Short\nR:reel\nM:4/4\nK:G\nGABc dBGB|G8|]\n")])
    with pytest.raises(NotOurs, match=r"index\.html"):
        made(book, tmp_path)
    assert own.read_text("utf-8") == "mine" and len(list(own.parent.iterdir())) == 1
    own.unlink()
    made(book, tmp_path)
    made(book, tmp_path)  # its own pages are its own to make anew


def test_a_part_that_stands_first_but_is_not_played_first_does_not_show() -> None:
    tune = read(
        f"X:1\nT:t\nP:BAC\nR:reel\nM:4/4\nL:1/8\nK:G\nP:A\n{FIRST}|\nP:B\n{SECOND}|\nP:C\nd8|e8|]\n"
    )
    cut = first_part(tune)
    assert [bar.notes for bar in cut.bars] == [bar.notes for bar in tune.bars[2:4]]
    assert [bar.index for bar in cut.bars] == [0, 1] and unfold(cut).notes


def test_sound_that_was_harmed_in_the_folder_is_made_anew(tmp_path: Path) -> None:
    book = plan([read("X:1\nT:Short\nR:reel\nM:4/4\nK:G\nGABc dBGB|G8|]\n")])
    folder = made(book, tmp_path, SiteSettings()).folder
    whole = (folder / "short.mp3").read_bytes()
    (folder / "short.mp3").write_bytes(whole[:1000])
    assert (made(book, tmp_path, SiteSettings()).folder / "short.mp3").read_bytes() == whole


def test_another_speed_or_another_library_makes_other_sound(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from reedwright.pack.site import tunepage

    (planned,) = plan([read("X:1\nT:Short\nR:reel\nM:4/4\nK:G\nG8|]\n")]).tunes
    key = tunepage.sound_key(planned, SiteSettings())
    assert tunepage.sound_key(planned, SiteSettings(slow=50)) != key
    assert tunepage.sound_key(replace(planned, words="other"), SiteSettings()) == key
    monkeypatch.setattr(tunepage, "version", lambda name: "another")
    assert tunepage.sound_key(planned, SiteSettings()) != key
