"""A measurement told: pooled reeds, the table, what needs work, plain data."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from played_reeds import plain_tone

from reedwright.harp.making import make_harp, parse_harp
from reedwright.harp.model import Breath, Reed
from reedwright.workshop.measuring.model import Beats, Measurement, NamedTone, Tone
from reedwright.workshop.measuring.naming import name_reeds
from reedwright.workshop.measuring.pooling import measure_reeds
from reedwright.workshop.measuring.remarks import Matter, Remark, remarks
from reedwright.workshop.measuring.reporting import measurement_report
from reedwright.workshop.measuring.text import measurement_text
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import TargetWishes

B, D = Breath.BLOW, Breath.DRAW
C = reed_targets(make_harp("C"))
HOLE_BY_HOLE = [Reed(hole, breath) for hole in range(1, 11) for breath in (B, D)]


def named(reed: Reed, cents: float, doubt: float = 0.3, **features: float) -> NamedTone:
    hz = C.of(reed).bench_hz * 2 ** (cents / 1200)
    return NamedTone(replace(plain_tone(hz, uncertainty=doubt), **features), reed, cents, 1.0)


def heard(**off: float) -> list[Tone]:
    """All reeds hole by hole; `b4=3.0` sets 4 blow 3 cents sharp."""
    cents = {Reed(int(key[1:]), B if key[0] == "b" else D): each for key, each in off.items()}
    return [
        plain_tone(C.of(reed).bench_hz * 2 ** (cents.get(reed, 0.0) / 1200), 1.5 * k)
        for k, reed in enumerate(HOLE_BY_HOLE)
    ]


def told(measurement: Measurement, matter: Matter) -> list[Remark]:
    return [each for each in remarks(measurement) if each.matter is matter]


def test_tones_of_one_reed_weigh_by_their_uncertainty() -> None:
    # Weights 1/1 and 1/4: (0 + 0.5 * 0.25) / 1.25 = 0.1; 1 / sqrt(1.25) = 0.894, by hand. They
    # agree (0.5 apart), so nothing is added for what differs between tones.
    (reed,) = measure_reeds([named(Reed(4, B), 0.0, 1.0), named(Reed(4, B), 0.5, 2.0)], C)
    assert reed.cents == pytest.approx(0.1)
    assert reed.uncertainty == pytest.approx(0.894, abs=0.001)
    assert reed.hz == pytest.approx(C.of(Reed(4, B)).hz * 2 ** (0.1 / 1200))
    assert reed.tones == 2


def test_tones_that_disagree_make_a_reed_less_sure() -> None:
    # Two equal tones at +-5: whatever the weights, the mean is 0 and its standard error
    # |x1 - x2| / 2 = 5, by hand.
    (reed,) = measure_reeds([named(Reed(4, B), -5.0), named(Reed(4, B), 5.0)], C)
    assert reed.cents == pytest.approx(0.0)
    assert reed.uncertainty == pytest.approx(5.0, abs=0.05)


def test_a_reed_that_disagrees_among_others_that_agree_is_less_sure() -> None:
    agree = [named(Reed(hole, B), 1.0) for hole in (5, 6, 7) for _ in range(2)]
    apart = [named(Reed(4, B), -5.0), named(Reed(4, B), 5.0)]
    found = {each.reed: each for each in measure_reeds([*agree, *apart], C)}
    # Half of the reeds and more agree: nothing is added for them, 0.3 / sqrt(2) is left.
    assert found[Reed(5, B)].uncertainty == pytest.approx(0.3 / 2**0.5)
    assert found[Reed(4, B)].uncertainty == pytest.approx(5.0)


def test_what_differs_between_tones_counts_for_reeds_heard_once() -> None:
    twice = [named(Reed(4, B), -2.0), named(Reed(4, B), 2.0)]
    once = named(Reed(5, B), 1.0)
    alone = measure_reeds([once], C)[0].uncertainty
    beside = {each.reed: each for each in measure_reeds([*twice, once], C)}[Reed(5, B)].uncertainty
    # DerSimonian and Laird (1986) by hand: equal w = 1/0.09, Q = 8w, df = 1, so the variance
    # between is (8w - 1) / w = 8 - 0.09 = 7.91; with 0.09 it is 8.
    assert alone == pytest.approx(0.3)
    assert beside == pytest.approx(8**0.5, abs=1e-6)


def test_level_and_attack_are_beside_the_next_holes_of_the_breath() -> None:
    tones = [
        named(Reed(3, B), 0, level=-20.0, attack=0.030),
        named(Reed(4, B), 0, level=-27.0, attack=0.090),
        named(Reed(5, B), 0, level=-22.0, attack=0.050),
        named(Reed(4, D), 0, level=-5.0, attack=0.010),
    ]
    found = {each.reed: each for each in measure_reeds(tones, C)}
    assert found[Reed(4, B)].level_beside == pytest.approx(-27 + 21)
    assert found[Reed(4, B)].attack_beside == pytest.approx(0.09 / 0.04)
    assert found[Reed(4, D)].level_beside is None and found[Reed(4, D)].attack_beside is None
    measurement = Measurement(C, tuple(tones), measure_reeds(tones, C), (), 0.0)
    assert "weaker than its neighbours by 6.0 dB" in told(measurement, Matter.WEAK)[0].words
    assert "slow to speak: 90 ms" in told(measurement, Matter.SLOW)[0].words


def test_what_needs_work_comes_with_the_farthest_first() -> None:
    found = told(name_reeds(heard(b4=-12.0, d6=8.0, b7=2.0), C), Matter.OFF)
    assert [each.reeds for each in found] == [(Reed(4, B),), (Reed(6, D),)]
    assert found[0].words == "4 blow: 12.0 cents flat; raise it."
    assert found[1].words == "6 draw: 8.0 cents sharp; lower it."


def test_a_reed_that_is_not_surely_off_is_to_be_measured_again() -> None:
    tones = [replace(tone, uncertainty=4.0) for tone in heard(b4=-6.0)]
    assert "measure it again" in told(name_reeds(tones, C), Matter.OFF)[0].words


def test_a_harp_in_tune_says_so() -> None:
    text = measurement_text(name_reeds(heard(), C))
    assert "Every reed is within 3 cents of its target." in text and "Needs work" not in text


def test_octaves_that_would_beat_are_told_with_their_rate() -> None:
    # C: 4 blow is 523.251 Hz (ISO 16). 5 cents up its octave's 7 blow is 1046.502 * 1.0028923,
    # 3.027 Hz over twice the lower, by hand.
    found = told(name_reeds(heard(b7=5.0), C), Matter.BEATS)
    rates = {each.reeds: each.size for each in found}
    assert rates[Reed(4, B), Reed(7, B)] == pytest.approx(3.027, abs=0.001)
    assert rates[Reed(7, B), Reed(10, B)] == pytest.approx(6.053, abs=0.001)
    assert "(octave) would beat at 3.03" in found[1].words
    # Those that were heard together are told as heard, once.
    low, high = C.of(Reed(4, B)).hz, C.of(Reed(7, B)).hz
    pair = Tone(40, 42, low, 0.1, 1, 0.03, -20, 30, high + 3, 0.1, Beats(2.9, 0.02, (2, 1)))
    again = told(name_reeds([*heard(b7=5.0), pair], C), Matter.BEATS)
    mine = [each.words for each in again if each.reeds == (Reed(4, B), Reed(7, B))]
    assert len(mine) == 1 and "beat at 2.90 ± 0.02 Hz" in mine[0]


def test_beats_that_are_wanted_are_not_complained_of() -> None:
    stretched = reed_targets(make_harp("C"), TargetWishes(stretch=4.0))
    tones = [plain_tone(stretched.of(reed).hz, 1.5 * k) for k, reed in enumerate(HOLE_BY_HOLE)]
    assert not told(name_reeds(tones, stretched), Matter.BEATS)
    # The same harp on targets without stretch beats.
    assert told(name_reeds(tones, C), Matter.BEATS)


def test_unsteady_missing_stray_and_doubtful_are_told() -> None:
    tones = heard()
    tones[6] = replace(tones[6], wander=4.5)
    gone = tones.pop(9)
    tones.append(plain_tone(gone.hz * 1.06, 60.0))
    found = name_reeds(tones, C)
    assert told(found, Matter.UNSTEADY)[0].reeds == (Reed(4, B),)
    assert told(found, Matter.MISSING)[0].words == "Not heard: 5 draw."
    assert "740.4 Hz at 60.0 s" in told(found, Matter.STRAY)[0].words
    shuffled = [tones[k] for k in (7, 3, 12, 0, 16, 4, 10)]
    doubtful = told(name_reeds(shuffled, C), Matter.UNSURE)
    assert doubtful and set(doubtful[0].reeds) == {Reed(2, D), Reed(3, B)}


def test_tones_of_one_reed_at_two_pitches_are_told() -> None:
    tones = [*heard(b4=-14.0), plain_tone(C.of(Reed(4, B)).hz, 40.0)]
    words = told(name_reeds(tones, C), Matter.DISAGREES)[0].words
    assert words.startswith("4 blow was heard 2 times at -14.0, +0.0 cents.")


def test_a_harp_that_lies_high_as_a_whole_is_told_first() -> None:
    tones = [replace(tone, hz=tone.hz * 443 / 440) for tone in heard()]
    first = remarks(name_reeds(tones, C))[0]
    assert first.matter is Matter.HARP and "11.8 cents sharp" in first.words
    assert "A 443.0" in first.words


@pytest.mark.parametrize("key", ["A", "G", "F", "low D", "Db"])
def test_a_recording_of_another_key_is_told_as_such(key: str) -> None:
    played = reed_targets(parse_harp(key))
    tones = [plain_tone(played.of(reed).hz * 1.004, k) for k, reed in enumerate(HOLE_BY_HOLE)]
    said = [each.words for each in told(name_reeds(tones, C), Matter.HARP)]
    assert len(said) == 1 and f"reeds of the {key} harp." in said[0]
    # Of the harp that it is, nothing of the kind; nor of a few tones.
    assert not any("reeds of" in each.words for each in remarks(name_reeds(tones, played)))
    assert not any("reeds of" in each.words for each in remarks(name_reeds(tones[:5], C)))


def test_the_table_has_80_columns_and_every_reed_in_hole_order() -> None:
    tones = heard(b4=-40.0, d10=33.3)
    del tones[4]
    text = measurement_text(name_reeds(tones, C))
    lines = text.splitlines()
    assert max(map(len, lines)) <= 80
    rows = [line for line in lines if line[:7].strip().replace("?", "") in _words()]
    assert [line[:7].strip() for line in rows] == _words()
    row = next(line for line in rows if line.startswith(" 4 blow"))
    # 523.25 Hz 40 cents flat is 511.30, by hand.
    assert row.split()[2:7] == ["C5", "523.25", "511.30", "-40.0", "±"]
    assert next(line for line in rows if line.startswith(" 3 blow")).split()[-1] == "-"


def _words() -> list[str]:
    return [f"{reed.hole} {reed.breath.value}" for reed in HOLE_BY_HOLE]


def test_the_report_is_plain_data_with_what_the_table_shows() -> None:
    low = C.of(Reed(1, B)).hz
    pair = Tone(40, 42, low, 0.1, 1, 0.03, -20, 30, 2 * low + 1, 0.1, Beats(1.0, 0.02, (2, 1)))
    report = json.loads(json.dumps(measurement_report(name_reeds([*heard(b4=-40.0), pair], C))))
    assert len(report["reeds"]) == 20 and len(report["tones"]) == 21
    four = report["reeds"][6]
    assert (four["hole"], four["breath"], four["note"]) == (4, "blow", "C5")
    assert four["cents"] == -40.0 and four["target_hz"] == 523.251
    assert report["order"] == "hole by hole, blow first, up"
    assert report["tones"][-1]["upper"] == {"hole": 4, "breath": "blow"}
    assert report["tones"][-1]["beats"]["hz"] == 1.0
    assert report["remarks"][0]["matter"] == "off target"
