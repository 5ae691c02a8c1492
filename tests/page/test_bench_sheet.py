"""The bench sheet as it is printed: read back from the finished PDF by pypdf and poppler."""

from __future__ import annotations

import re
import subprocess
from dataclasses import replace
from math import log2

import printed_pages
import pytest
from printed_pages import MARKUP, fonts_embedded, of_kind, pages_of, read, type_sizes

from reedwright.errors import ReedwrightError
from reedwright.harp.cautions import CAUTIONS, SHORT_CAUTION
from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Reed
from reedwright.page.bench.sheet import (
    bench_sheet_pdf,
    worklist_pdf,
)
from reedwright.workshop.conversion.model import Conversion, Purchase, Work, WorkList
from reedwright.workshop.conversion.planning import plan_conversion
from reedwright.workshop.conversion.worklist import plan_worklist
from reedwright.workshop.measuring.model import Measurement, ReedMeasure
from reedwright.workshop.targets.beats import beats_of
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import Targets, TargetWishes
from reedwright.workshop.valving.model import PlateMeasures, Slot, SlotSizes
from reedwright.workshop.valving.planning import plan_valves

NOT_HEARD = Reed(7, Breath.DRAW)


def text_of(pdf: bytes) -> str:
    """The text line by line, as rows of tables are read."""
    return printed_pages.text_of(pdf, "-layout")


def measured(targets: Targets, cents: float, at_bench: bool = True) -> Measurement:
    """Every reed but 7 draw so many cents from these targets."""
    reeds = tuple(
        ReedMeasure(
            reed=target.reed,
            tones=2,
            hz=(target.bench_hz if at_bench else target.hz) * 2 ** (cents / 1200),
            cents=cents,
            uncertainty=0.2,
            wander=0.5,
            attack=0.05,
            level=-20.0,
        )
        for target in targets.reeds
        if target.reed != NOT_HEARD
    )
    return Measurement(targets, (), reeds, (NOT_HEARD,), 0.0, at_bench)


@pytest.fixture(scope="module")
def minor() -> Conversion:
    """Twenty works: five reeds change, the others are touched up."""
    wishes = TargetWishes("just", a4=442.0, pressure=3.0, stretch=1.0)
    return plan_conversion(make_harp("A", "natural-minor"), wishes)


@pytest.fixture(scope="module")
def minor_pdf(minor: Conversion) -> bytes:
    return bench_sheet_pdf(minor)


@pytest.fixture(scope="module")
def raised() -> Conversion:
    """One work, on a harp that is half-valved in the end."""
    wanted = make_harp("C", "richter-raised-3-blow", valves="half")
    return plan_conversion(wanted, stock=make_harp("C"))


@pytest.fixture(scope="module")
def raised_pdf(raised: Conversion) -> bytes:
    return bench_sheet_pdf(raised, valve_plan=plan_valves(raised.wanted))


def test_every_reed_has_its_target_and_cents_in_the_order_of_the_work(
    minor: Conversion, minor_pdf: bytes
) -> None:
    text = text_of(minor_pdf)
    place = text.index("The work, in order")
    assert len(minor.works) == 20
    for work in minor.works:
        word = {Work.TOUCH: "Touch up", Work.LOWER: "Lower"}[work.work]
        place = text.index(word, place)
        # The row before the target (from) and the move stand on its first line.
        for part in (f"{work.from_hz:.2f}", f"{abs(work.cents):.1f}", f"{work.to_hz:.2f}"):
            place = text.index(part, place)


def test_a_reed_without_work_has_a_row_too(raised: Conversion, raised_pdf: bytes) -> None:
    """Hz after ISO 16: the octaves of A 440, and E4 at 329.63 Hz in equal temperament."""
    text = text_of(raised_pdf)
    for row in ("2 ?↑ E4 329.63", "6 ?↓ A5 880.00", "10 ?↓ A6 1760.00"):
        assert re.search(row, text)
    others = text.partition("The other reeds")[2].partition("Pairs")[0]
    assert len(re.findall(r"\d+ ?[↑↓] [A-G]\S?\d \d+\.\d\d 0\.0", others)) == 19
    assert not re.search("3 ?↑", others)


def test_the_work_says_sign_and_word_where_how_far_and_how_to_check(
    raised: Conversion, raised_pdf: bytes
) -> None:
    """Raised 3 blow is G4 (391.995 Hz) to A4 (440 Hz): 200 cents by definition."""
    text = text_of(raised_pdf)
    for part in ("+ Raise", "at the free end", "G4 392.00 +200.0", "A4 440.00", "tuner 0.0"):
        assert part in text
    (work,) = raised.works
    assert work.finish
    for said in (work.how, work.check, work.finish, work.warning):
        assert said.replace("Ab4", "A♭4").replace("Bb4", "B♭4") in text
    assert "1 reed changes its note: 3 blow from G4 to A4." in text
    assert "gains blow A4 and blow bent to A♭4; loses blow G4" in text


def test_what_many_reeds_are_told_alike_stands_once(minor: Conversion, minor_pdf: bytes) -> None:
    shim = "Slide a shim under the reed first."
    assert sum(shim in work.how for work in minor.works) == 20
    assert text_of(minor_pdf).count(shim) == 1


def test_the_short_caution_is_on_the_first_page_and_all_are_at_the_end(minor_pdf: bytes) -> None:
    pages = pages_of(minor_pdf)
    assert SHORT_CAUTION in pages[0][:800]
    for caution in CAUTIONS:
        assert caution in pages[-1]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_twenty_works_fit_two_pages(minor: Conversion, paper: str) -> None:
    pdf = bench_sheet_pdf(minor, paper=paper)
    assert len(read(pdf).pages) == 2
    assert min(type_sizes(pdf)) >= 7.0  # points


def test_one_work_with_valves_fits_two_pages_in_large_type(raised_pdf: bytes) -> None:
    assert len(read(raised_pdf).pages) == 2
    assert min(type_sizes(raised_pdf)) >= 7.0


def test_the_rest_of_the_last_page_is_ruled_for_notes_and_no_page_is_notes_alone(
    raised: Conversion,
) -> None:
    *_, last = pages_of(bench_sheet_pdf(raised))
    assert last.index("Cautions") < last.index(CAUTIONS[-1]) < last.index("Notes")


def test_valves_are_listed_and_both_plates_drawn(raised: Conversion, raised_pdf: bytes) -> None:
    plan = plan_valves(raised.wanted)
    text = text_of(raised_pdf)
    place = text.index("cut, glued")
    for valve in plan.valves:
        side = "inside" if valve.inside else "outside"
        row = f"{valve.plate.value} {valve.slot.hole} {side} {valve.length:.1f} × {valve.width:.1f}"
        place = text.index(row, place)
    words = [str(figure["/Alt"]) for figure in of_kind(raised_pdf, "/Figure")]
    assert any(
        "Blow plate, outside: valves over the slots of holes 7, 8, 9, 10." in alt
        and "Draw plate, inside: valves over the slots of holes 1, 2, 3, 4, 5, 6." in alt
        for alt in words
    )
    assert any(alt.startswith("Chart of the C harp") and "3 A4" in alt for alt in words)


def test_a_valve_that_cannot_be_made_is_neither_drawn_nor_counted(raised: Conversion) -> None:
    wide = (
        Slot(Reed(1, Breath.DRAW), 15.9, 3.2, measured=True),
        Slot(Reed(10, Breath.DRAW), 9.0, 2.0, measured=True),
    )
    narrow = PlateMeasures(hole_pitch=7.0, chamber_width=4.0)
    plan = plan_valves(raised.wanted, SlotSizes(wide, plates=narrow))
    assert [valve.slot.hole for valve in plan.valves if not valve.fits] == [1, 2, 3]
    assert Reed(1, Breath.BLOW) not in plan.harp.isolated
    pdf = bench_sheet_pdf(raised, valve_plan=plan)
    text = text_of(pdf)
    assert "draw 1 inside does not fit" in text
    assert "Cannot be made: blow 1 stays as it is." in text
    # Blow 1 of a C harp is C4; alone it would bend to B3, and only a valve lets it (harps.md).
    assert "Blow 1 bends alone" not in text
    assert "blow B3" not in text
    marks = re.findall(r"(?<!\S)v(?!\S)", text)
    assert len(marks) == 7 + 1  # on the chart, and in the words below it
    words = [str(figure["/Alt"]) for figure in of_kind(pdf, "/Figure")]
    assert any("Draw plate, inside: valves over the slots of holes 4, 5, 6." in w for w in words)


def test_the_page_is_tagged_with_one_title_and_its_fonts(raised_pdf: bytes) -> None:
    assert b"pdfuaid:part" in raised_pdf
    assert len(of_kind(raised_pdf, "/H1")) == 1
    assert of_kind(raised_pdf, "/Table")
    assert read(raised_pdf).metadata.title == "C harp, raised 3 blow, half-valved"
    assert all(fonts_embedded(raised_pdf))


def test_measured_reeds_are_told_from_the_sheets_own_target(raised: Conversion) -> None:
    """What was measured against another A4 counts from the target that this sheet prints."""
    other = reed_targets(raised.wanted, TargetWishes(a4=442.0))
    before, after = measured(other, -2.0), measured(raised.targets, 1.5)
    text = text_of(bench_sheet_pdf(raised, measured_before=before, measured_after=after))
    told = (f"+{1200 * log2(442 / 440) - 2.0:.1f} ±0.2", "+1.5 ±0.2")
    work = text.partition("The work, in order")[2].partition("The other reeds")[0]
    others = text.partition("The other reeds")[2].partition("Pairs")[0]
    for part in (work, others):
        assert part.index(told[0]) < part.index(told[1]), "before stands left of after"
    assert [others.count(each) for each in told] == [18, 18], "7 draw is left for the pencil"
    assert [work.count(each) for each in told] == [1, 1]
    assert "Printed measurements are cents from the target" in text


def test_what_was_measured_as_played_counts_from_what_sounds_then() -> None:
    targets = reed_targets(make_harp("D"), TargetWishes(pressure=4.0))
    pdf = bench_sheet_pdf(targets, measured_after=measured(targets, 2.0, at_bench=False))
    text = text_of(pdf)
    assert text.count("+2.0 ±0.2") == 19
    assert "taken as played" in text
    text = text_of(bench_sheet_pdf(targets, measured_after=measured(targets, 2.0)))
    assert text.count("+2.0 ±0.2") == 19
    assert "taken as played" not in text


def test_a_harp_that_is_only_tuned_has_every_reed_by_plate() -> None:
    targets = reed_targets(make_harp("D"), TargetWishes("just", a4=442.0, pressure=2.0))
    text = text_of(bench_sheet_pdf(targets))
    place = text.index("Every reed and its target")
    for breath in Breath:
        for target in targets.reeds:
            if target.reed.breath is breath:
                place = text.index(f"{target.reed.hole} {'↑' if breath == 'blow' else '↓'}", place)
                place = text.index(f"{target.bench_hz:.2f}", place)
                place = text.index(f"{abs(target.bench_cents):.1f}", place)
    assert "five-limit just intonation" in text
    assert "A4 = 442 Hz" in text
    assert "tune 2 cents sharp" in text


def test_a_slide_harp_has_the_reeds_of_both_places_of_the_slide() -> None:
    """E flat 4 is 311.13 Hz and, a semitone on, E4 329.63 Hz (ISO 16, equal temperament)."""
    pdf = bench_sheet_pdf(reed_targets(make_harp("Eb", "slide-solo-12")))
    out, _, pushed = text_of(pdf).partition("With the slide in")
    assert "E♭4 root 311.13" in out
    assert re.search("1 ?↑ E4 329.63", pushed)
    assert len(read(pdf).pages) == 2


def test_octaves_to_listen_to_say_how_often_they_beat(raised_pdf: bytes) -> None:
    """A4 at 440 Hz and an octave two cents wide beat 880 (2^(2/1200) - 1) times a second."""
    assert "blow: no beats in 1 + 4, 2 + 5, 4 + 7, 5 + 8, 6 + 9, 7 + 10." in text_of(raised_pdf)
    targets = reed_targets(make_harp("A"), TargetWishes(stretch=2.0))
    text = text_of(bench_sheet_pdf(targets))
    # Blow 4 and 7 of an A harp are A4, the home note that stretch counts from, and A5.
    assert f"4 + 7 A4 A5 octave {880 * (2 ** (2 / 1200) - 1):.1f} a second, wide" in text


def test_other_pairs_may_be_asked_for() -> None:
    """The equal major third C4 E4 beats 5 x 261.626 - 4 x 329.628: 10.4 times a second."""
    targets = reed_targets(make_harp("C"))
    pair = beats_of(targets, Reed(1, Breath.BLOW), Reed(2, Breath.BLOW))
    text = text_of(bench_sheet_pdf(targets, beats=[pair]))
    assert "1 + 2 C4 E4 major third 10.4 a second, wide" in text
    assert "octave" not in text.partition("Pairs to listen to")[2].partition("Cautions")[0]


@pytest.mark.parametrize(
    ("paper", "points"), [("a4", (595, 842)), ("letter", (612, 792)), ("a5", (420, 595))]
)
def test_paper_is_as_asked_and_nothing_stands_in_the_margin(
    minor: Conversion, paper: str, points: tuple[int, int]
) -> None:
    named = replace(minor, name="A long name " * 8)
    pdf = bench_sheet_pdf(named, paper=paper)
    pages = read(pdf).pages
    assert {(round(p.mediabox.width), round(p.mediabox.height)) for p in pages} == {points}
    boxes = subprocess.run(
        ["pdftotext", "-bbox", "-", "-"], input=pdf, capture_output=True, check=True
    ).stdout.decode()
    words = re.findall(r'xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)"', boxes)
    assert len(words) > 400
    edge = 14.0  # points; what many printers leave white
    for x1, y1, x2, y2 in (map(float, word) for word in words):
        assert edge < x1 < x2 < points[0] - edge
        assert edge / 2 < y1 < y2 < points[1] - edge


def test_names_print_as_typed(raised: Conversion) -> None:
    pdf = bench_sheet_pdf(raised, name=MARKUP)
    assert read(pdf).metadata.title == MARKUP
    assert pages_of(pdf)[0].startswith(MARKUP)


def test_a_work_list_buys_first_then_tells_the_order_then_each_harp(
    raised: Conversion, minor: Conversion
) -> None:
    order = ((1, 0), (1, 1), (0, 0), *((1, work) for work in range(2, 20)))
    shopping = (Purchase(make_harp("C"), 1, (1,)), Purchase(make_harp("D"), 2, (2,), as_donor=1))
    worklist = WorkList((raised, minor), shopping, order, from_hand=())
    pdf = worklist_pdf(worklist, date="1 May 2026")
    first, *rest = pages_of(pdf)
    text = text_of(pdf)
    for part in ("1 × C harp", "2 × D harp", "1 of them for reeds", "1 May 2026", SHORT_CAUTION):
        assert part in text
    steps = [
        "Move the reeds, a little short: harp 1",
        "Move the reeds, a little short: harp 2, A harp, natural minor",
        "to lower",
        "Let it settle",
        "overnight",
        "Finish, hole by hole: harp 1",
        "Finish, hole by hole: harp 2",
        "Octaves and chords",
    ]
    place = first.index("The order of work")
    for step in steps:
        place = first.index(step, place)
    assert rest[0].startswith("Work list: 2 harps 2 of ")
    assert "Harp 1: C harp, raised 3 blow" in rest[0]
    assert sum("Harp 2: A harp, natural minor" in page for page in rest) == 1
    assert all(caution in rest[-1] for caution in CAUTIONS)
    assert len(of_kind(pdf, "/H1")) == 1


def test_a_list_without_order_is_told_by_stages_too(raised: Conversion) -> None:
    text = text_of(worklist_pdf(WorkList((raised, raised), (), exact=False)))
    assert text.index("short: harp 1, C harp") < text.index("short: harp 2, C harp")
    assert "Perhaps fewer harps" in text


def test_the_bytes_are_the_same_each_time(raised: Conversion, raised_pdf: bytes) -> None:
    assert bench_sheet_pdf(raised, valve_plan=plan_valves(raised.wanted)) == raised_pdf


def test_what_is_dangerous_about_valves_is_told_where_there_are_some(
    raised: Conversion, raised_pdf: bytes
) -> None:
    assert "loose valve can be breathed in" in text_of(raised_pdf)
    assert "loose valve" not in text_of(bench_sheet_pdf(raised))


def test_of_a_stock_in_another_key_bends_alone_are_told() -> None:
    """All notes of an E flat harp lie a semitone off; that would be every hole, twice over."""
    plan = plan_conversion(make_harp("D", "harmonic-minor"), stock=make_harp("Eb"))
    text = text_of(bench_sheet_pdf(plan))
    assert "draw bends now, a semitone at most" in text
    assert "gains" not in text.partition("What the holes gain and lose")[2].partition("Cautions")[0]


def test_what_to_buy_for_its_reeds_stands_on_a_single_sheet() -> None:
    listed = plan_worklist([plan_conversion(make_harp("C", "solo"))])
    (plan,) = listed.conversions
    text = text_of(bench_sheet_pdf(plan, shopping=listed))
    assert "To buy" in text and "for its reeds" in text
    assert "To buy" not in text_of(bench_sheet_pdf(plan))


def test_another_paper_is_refused(raised: Conversion) -> None:
    with pytest.raises(ReedwrightError, match="'a3': choose one of a4, letter, a5"):
        bench_sheet_pdf(raised, paper="a3")
