"""A small sample of benchmarks/take_report.py: faults planted in takes that FluidSynth plays."""

import pytest
from soundfont_takes import sampled_tunes

from reedwright.takes.following.follow import follow
from reedwright.takes.report.harps import moved_harp
from reedwright.takes.report.judging import judge
from take_report import FLAT, MISSED, SHARP, WRONG, Tally, heard_take, plant, tally


@pytest.fixture(scope="module")
def results():
    all_ = Tally()
    harps = []
    for k, tune in enumerate(sampled_tunes(4, seed=7)[1:3], start=1):
        planted = plant(tune, 7000 + k)
        report = judge(follow(planted.arrangement, heard_take(planted, 20.0)))
        all_.add(tally(planted, report))
        harps.append(
            (report.harp_found.harp, moved_harp(planted.arrangement.harp, planted.semitones))
        )
    return all_, harps


def test_planted_faults_are_found_with_hardly_a_false_alarm(results):
    """The issue's goals are 95 % found and under 2 % false; of a sample this small, nine tenths."""
    all_, _ = results
    assert min(all_.planted[name] for name in (WRONG, MISSED, FLAT, SHARP)) >= 2
    assert all_.found_rate >= 0.9, all_.remarks
    assert all_.false_rate < 0.02, all_.remarks


def test_key_of_the_harp_is_found(results):
    for found, true in results[1]:
        assert (found.key, found.register) == (true.key, true.register)
