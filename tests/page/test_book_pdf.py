"""A whole book as its reader and its printer get it, checked in the PDF by other programs.

`pypdf` reads structure, links and boxes; poppler draws pages and lists fonts.
"""

from __future__ import annotations

import re
import subprocess
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import groupby, pairwise
from pathlib import Path

import numpy as np
import pypdf
import pytest
from printed_pages import MARKUP, fonts_embedded, of_kind, pages_of, read, type_sizes

from reedwright.errors import ReedwrightError
from reedwright.harp.making import make_harp
from reedwright.page.book.boxes import with_bleed_boxes
from reedwright.page.book.entries import tune_entry
from reedwright.page.book.model import BookContent, BookLook, Chapter, TuneEntry
from reedwright.page.book.printing import book_data, book_pdf
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"
HARPS = ("G", "D", "D", "D", "A", "G", "C")  # of the example tunes, in order
POINT = 25.4 / 72  # mm
SMALLEST_TAB, SMALLEST_GRACE = 9.0, 7.0  # points; grace notes' by our own rule

COLOUR = BookLook(colour=True, bleed=3.0, crop_marks=True)
GREY = BookLook(paper="a5", two_sided=False, links="text", tab_style="signs")


@cache
def arrangements() -> tuple[Arrangement, ...]:
    tunes = [tune for tune in read_tunes(EXAMPLES) if isinstance(tune, Tune)]
    player = load_profile("all-techniques")
    return tuple(
        arrange(tune, make_harp(harp, "richter-raised-3-blow"), player)
        for tune, harp in zip(tunes, HARPS, strict=True)
    )


@cache
def entries(look: BookLook) -> tuple[TuneEntry, ...]:
    first = arrangements()[0]
    odd = replace(first.tune, titles=(f"{MARKUP} ♯ B♭", "Ålesund", "The Zed"))
    return tuple(
        tune_entry(f"tune-{number}", made, look, f"https://a.example/{number}")
        for number, made in enumerate((*arrangements(), replace(first, tune=odd)))
    )


def content(look: BookLook) -> BookContent:
    tunes = entries(look)[:-1]
    odd = entries(look)[-1]
    return BookContent(
        title="Tunes of the Low Bridge",
        subtitle="for slow evenings",
        maker="Wilhelmina Tarn",
        chapters=(
            Chapter("Quick ones", tunes[:3], "Mind your breath."),
            Chapter("Slow ones", (*tunes[3:], odd)),
        ),
        preface=("These tunes were played before they were printed.",),
        imprint=("Fernholm, 2026",),
        rights="Free to teach from.",
        credits=("Set in Libertinus Serif.",),
        cautions=("Stop when you feel light-headed.",),
    )


@cache
def book(look: BookLook) -> bytes:
    return book_pdf(content(look), look)


@cache
def words(look: BookLook) -> tuple[str, ...]:
    return tuple(pages_of(book(look)))


def links(pdf: bytes) -> Iterator[tuple[int, pypdf.generic.DictionaryObject]]:
    """Every link with the number of the page that it stands on, from 0."""
    for number, page in enumerate(read(pdf).pages):
        for annotation in page.get("/Annots", []):
            yield number, annotation.get_object()


def targets(pdf: bytes) -> Iterator[tuple[str, int]]:
    """What each link inside of the file says of itself, and the page that it leads to, from 0."""
    reader = read(pdf)
    ids = {page.indirect_reference.idnum: n for n, page in enumerate(reader.pages)}
    named = reader.named_destinations
    for _, link in links(pdf):
        if "/Dest" in link:
            place = link["/Dest"].get_object()
            if not isinstance(place, pypdf.generic.ArrayObject):
                place = named[str(place)].dest_array
            yield str(link.get("/Contents", "")), ids[place[0].idnum]


def title_page(pages: tuple[str, ...], title: str) -> int:
    """The page with a tune's head, from 0: its title, and under it the word for its sound."""
    found = [n for n, text in enumerate(pages) if f"{title} " in text and "Tempo" in text]
    assert len(found) == 1, title
    return found[0]


@pytest.mark.parametrize("look", [COLOUR, GREY])
def test_every_link_leads_to_the_page_that_it_names(look: BookLook) -> None:
    labels = read(book(look)).page_labels
    inside = 0
    for words_of, page in targets(book(look)):
        inside += 1
        named = re.search(r"page (\w+)$", words_of)
        if named:
            assert labels[page] == named[1]
    tunes = len(content(look).tunes)
    assert inside >= 6 * tunes  # in the contents and five indexes
    outside = {str(link["/A"]["/URI"]) for _, link in links(book(look)) if "/A" in link}
    assert outside == {tune.address for tune in content(look).tunes}


def test_every_line_of_the_indexes_leads_to_its_own_tune() -> None:
    data = book_data(content(COLOUR), COLOUR)
    names = [tune["name"] for tune in data["tunes"]]  # type: ignore[attr-defined]
    wanted = [
        f"tune-{names[row['tune']]}"
        for index in data["indexes"]  # type: ignore[attr-defined]
        for group in index["groups"]
        for row in group["rows"]
    ]
    assert len(set(wanted)) == len(names)
    body = max(page for page, text in enumerate(words(COLOUR)) if "Tempo" in text)
    found = [
        str(link["/Dest"]) for page, link in links(book(COLOUR)) if page > body and "/Dest" in link
    ]
    # A line of music and words has more than one link, and neighbours may lead to one tune.
    assert [place for place, _ in groupby(found)] == [place for place, _ in groupby(wanted)]


@pytest.mark.parametrize("look", [COLOUR, GREY])
def test_contents_and_indexes_tell_the_pages_where_the_tunes_are(look: BookLook) -> None:
    pages = words(look)
    labels = read(book(look)).page_labels
    first = labels.index("1")
    front = " ".join(pages[:first])
    back = " ".join(text for text in pages[first:] if "Tempo" not in text)
    for tune in content(look).tunes:
        number = labels[title_page(pages, tune.title)]
        in_contents = re.findall(rf"{re.escape(tune.title)}[ .]*\s(\d+)", front)
        assert in_contents == [number]
        if tune.also:  # a title so long that it fills its lines in the indexes
            continue
        filed = re.sub(r"^(The|A|An) (.*)", r"\2, \1", tune.title)
        told = re.findall(rf"{re.escape(filed)}.{{0,60}}?(?:\. ?){{3,}}(\d+)", back)
        assert told.count(number) >= 5


@pytest.mark.parametrize("look", [COLOUR, GREY])
def test_every_tune_stands_on_the_page_planned_for_it(look: BookLook) -> None:
    """So nothing ran over its page: what was reckoned for its parts is what they take."""
    data = book_data(content(look), look)
    planned: dict[str, str] = {}
    for number, page in enumerate(data["pages"], 1):  # type: ignore[arg-type, var-annotated]
        for part in page["parts"]:
            name = data["tunes"][part["tune"]]["name"]  # type: ignore[index]
            planned.setdefault(f"tune-{name}", str(number))
    reader = read(book(look))
    ids = {page.indirect_reference.idnum: n for n, page in enumerate(reader.pages)}
    found = {
        name: reader.page_labels[ids[place.dest_array[0].idnum]]
        for name, place in reader.named_destinations.items()
    }
    assert found == planned


def test_the_index_of_titles_tells_its_letters_in_the_running_head() -> None:
    (index,) = (i for i in book_data(content(GREY), GREY)["indexes"] if i["kind"] == "titles")  # type: ignore[attr-defined]
    letters = [group["label"] for group in index["groups"]]
    (page,) = (text for text in words(GREY) if "Index of titles" in text and "Contents" not in text)
    assert f"Titles: {letters[0]} to {letters[-1]}" in page


def test_front_matter_has_roman_numbers_and_the_tunes_arabic_ones() -> None:
    labels = read(book(COLOUR)).page_labels
    assert labels[:6] == ["", "", "i", "ii", "iii", "iv"]  # the cover is not counted
    body = labels.index("1")
    assert body % 2 == 0  # a right-hand page: the third, fifth ... of the file
    last = [label for label in labels[body:] if label]
    assert last == [str(number) for number in range(1, len(last) + 1)]


def test_chapters_and_tunes_are_bookmarks_one_within_the_other() -> None:
    outline = read(book(COLOUR)).outline
    chapters = [
        (item.title, [inner.title for inner in outline[place + 1]])
        for place, item in enumerate(outline[:-1])
        if not isinstance(item, list) and isinstance(outline[place + 1], list)
    ]
    made = content(COLOUR).chapters
    assert chapters == [(each.title, [tune.title for tune in each.tunes]) for each in made]


@pytest.mark.parametrize("look", [COLOUR, GREY])
def test_fonts_are_in_the_file_and_the_document_is_tagged(look: BookLook) -> None:
    pdf = book(look)
    assert fonts_embedded(pdf)
    assert all(fonts_embedded(pdf))
    root = read(pdf).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] is True or str(root["/MarkInfo"]["/Marked"]) == "True"
    assert root["/Lang"] == "en"
    assert b"pdfuaid" in root["/Metadata"].get_object().get_data()
    assert read(pdf).metadata["/Title"] == "Tunes of the Low Bridge"


@pytest.mark.parametrize("look", [COLOUR, GREY])
def test_every_picture_has_words_and_every_system_its_own(look: BookLook) -> None:
    figures = of_kind(book(look), "/Figure")
    told = [str(figure["/Alt"]) for figure in figures]
    assert all(told)
    music = Counter(text for text in told if text.startswith("Sheet music of"))
    assert len(music) == len(content(look).tunes)
    codes = sum("QR code" in text for text in told)
    assert codes == (len(content(look).tunes) if look.links == "qr" else 0)


def test_headings_do_not_skip_a_level() -> None:
    levels = [int(kind[-1]) for kind in kinds(book(COLOUR)) if re.fullmatch(r"/H[1-6]", kind)]
    assert levels
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def kinds(pdf: bytes) -> Iterator[str]:
    """The kinds of all elements, in reading order."""
    waiting = [read(pdf).trailer["/Root"]["/StructTreeRoot"]]
    while waiting:
        element = waiting.pop().get_object()
        if isinstance(element, pypdf.generic.ArrayObject):
            waiting += reversed(element)
        elif isinstance(element, pypdf.generic.DictionaryObject):
            if "/S" in element:
                yield str(element["/S"])
            if "/K" in element:
                waiting.append(element["/K"])


def test_two_short_tunes_stand_on_one_page() -> None:
    pages = words(COLOUR)
    together = Counter(title_page(pages, tune.title) for tune in content(COLOUR).tunes)
    assert max(together.values()) == 2
    data = book_data(content(COLOUR), COLOUR)
    pairs = [page for page in data["pages"] if len(page["parts"]) == 2]  # type: ignore[attr-defined]
    assert len(pairs) == sum(count == 2 for count in together.values()) >= 1


@pytest.mark.parametrize(("look", "size"), [(COLOUR, (210.0, 297.0)), (GREY, (148.0, 210.0))])
def test_the_finished_page_is_the_paper_asked_for(
    look: BookLook, size: tuple[float, float]
) -> None:
    """ISO 216."""
    for page in read(book(look)).pages:
        trim = [float(edge) * POINT for edge in page.trimbox]
        assert (trim[2] - trim[0], trim[3] - trim[1]) == pytest.approx(size, abs=0.05)


def test_what_is_bled_lies_three_millimetres_around_and_marks_outside_of_it() -> None:
    for page in read(book(COLOUR)).pages:
        trim, bleed, media = (
            [float(edge) * POINT for edge in box]
            for box in (page.trimbox, page.bleedbox, page.mediabox)
        )
        for side, sign in enumerate((-1, -1, 1, 1)):
            assert sign * (bleed[side] - trim[side]) == pytest.approx(3.0, abs=0.01)
            assert sign * (media[side] - bleed[side]) == pytest.approx(6.0, abs=0.01)
    cover = drawn(book(COLOUR), 1)
    paper = cover[5, 5]
    assert (paper == 255).all()  # outside of what is bled
    edge = int((read(book(COLOUR)).pages[0].bleedbox[0] + 2) * DPI / 72)
    assert (cover[cover.shape[0] // 2, edge] != 255).any()  # bled to its edge
    marks = (cover[: int(3 / 25.4 * DPI)] < 250).all(axis=2).any(axis=0).sum()
    assert 2 <= marks <= 8  # two thin upright marks at the top


def test_the_table_of_references_finds_every_object_beside_the_boxes() -> None:
    pdf = book(COLOUR)
    table = int(re.search(rb"startxref\s+(\d+)\s+%%EOF\s*$", pdf)[1])
    assert pdf.startswith(b"xref", table)
    offsets = re.findall(rb"(\d{10}) \d{5} ([nf])", pdf[table:])
    used = [(number, int(o)) for number, (o, kind) in enumerate(offsets) if kind == b"n"]
    assert len(used) > 100
    assert all(pdf.startswith(b"%d 0 obj" % number, offset) for number, offset in used)


DPI = 50


def drawn(pdf: bytes, page: int) -> np.ndarray:
    found = subprocess.run(
        ["pdftoppm", "-r", str(DPI), "-f", str(page), "-l", str(page), "-"],
        input=pdf,
        capture_output=True,
        check=True,
    ).stdout
    head, size, _, rest = found.split(b"\n", 3)
    assert head == b"P6"
    width, height = map(int, size.split())
    return np.frombuffer(rest, np.uint8, width * height * 3).reshape(height, width, 3)


def test_a_grey_book_has_grey_inks_alone_and_a_coloured_one_its_accent() -> None:
    pages = len(read(book(GREY)).pages)
    for number in (1, 2, 5, 7, pages - 3, pages):
        picture = drawn(book(GREY), number)
        assert (picture == picture[:, :, :1]).all(), number
    cover = drawn(book(COLOUR), 1).astype(int)
    assert (abs(cover - cover[:, :, :1]) > 40).any()


def test_no_type_of_the_smallest_book_is_smaller_than_seven_points() -> None:
    assert min(type_sizes(book(GREY))) >= SMALLEST_GRACE - 0.05


@pytest.mark.parametrize("look", [COLOUR, GREY])
def test_tab_can_be_read_at_arm_s_length(look: BookLook) -> None:
    for tune in entries(look):
        for sheet in (
            *tune.page["alone"]["sheets"],
            *(tune.page["shared"] or {"sheets": []})["sheets"],
        ):
            for system in sheet:
                tabs = re.findall(r'Reedwright Tab" font-size="([\d.]+)px', system["svg"])
                scale = system["width"] / float(
                    re.search(r'viewBox="\S+ \S+ (\S+)', system["svg"])[1]
                )
                points = [float(size) / 10 * scale / POINT for size in tabs]
                assert max(points) >= SMALLEST_TAB - 0.05
                assert min(points) >= SMALLEST_GRACE - 0.05


def test_signs_that_mean_something_elsewhere_stand_as_they_are() -> None:
    together = " ".join(words(COLOUR))
    assert MARKUP in together
    assert "♯ B♭" in together
    assert "Ålesund" in together


def test_book_words_stand_where_they_are_looked_for() -> None:
    pages = words(COLOUR)
    assert "Wilhelmina Tarn" in pages[0]
    assert "Fernholm, 2026" in pages[5]
    assert "Free to teach from." in pages[5]
    assert "light-headed" in pages[-1]
    assert "Set in Libertinus Serif." in pages[-1]


def test_the_last_page_is_the_outside_of_the_last_leaf() -> None:
    whole = content(COLOUR)
    for chapters in (whole.chapters[:1], whole.chapters[1:]):
        pages = pages_of(book_pdf(replace(whole, chapters=chapters), COLOUR))
        assert len(pages) % 2 == 0
        assert "light-headed" in pages[-1]


def test_the_same_book_gives_the_same_bytes() -> None:
    assert book_pdf(content(GREY), GREY) == book(GREY)


def test_a_book_needs_tunes_and_names_that_differ() -> None:
    with pytest.raises(ReedwrightError, match="at least one tune"):
        book_pdf(BookContent("Empty", (Chapter("None", ()),)), GREY)
    tune = entries(GREY)[0]
    with pytest.raises(ReedwrightError, match="named tune-0"):
        book_pdf(BookContent("Double", (Chapter("", (tune, tune)),)), GREY)


def test_boxes_are_written_only_into_a_file_that_is_understood() -> None:
    with pytest.raises(ReedwrightError, match="without crop marks"):
        with_bleed_boxes(b"%PDF-1.7 something else", 3.0)


def test_a_template_of_the_user_s_own_is_given_the_whole_book(tmp_path: Path) -> None:
    own = tmp_path / "own.typ"
    own.write_text(
        "#let book = json(bytes(sys.inputs.lesson))\n"
        "#set document(title: book.title)\n"
        "= #book.title\n"
        "#for tune in book.tunes [+ #tune.title: #tune.key, #tune.harp]\n"
    )
    look = replace(GREY, template=own)
    (page,) = pages_of(book_pdf(content(GREY), look))
    for tune in content(GREY).tunes:
        assert tune.harp in page
