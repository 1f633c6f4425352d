"""Published programmes: their doses are those that were published, and each says where it comes from."""

import re
import tomllib

import pytest

from imu_rom.dose.protocol_catalogue import protocol_bytes, protocol_names, read_protocol
from imu_rom.dose.sites import tendon_site
from imu_rom.dose.totals import stage_totals
from imu_rom.errors import PlanError

NAMES = protocol_names()


def test_the_programmes_that_the_trade_speaks_of_are_there():
    assert set(NAMES) >= {
        "alfredson-1998",
        "beyer-2015",
        "breda-2021",
        "end-range-holds",
        "goom-2016",
        "insertional-ladder",
        "jonsson-2008",
        "kongsgaard-2009",
        "leap-hip",
        "purdam-2004",
        "rio-2015",
        "silbernagel-2007",
    }


@pytest.mark.parametrize("name", NAMES)
def test_each_says_where_it_was_published_and_what_must_be_verified(name):
    plan = read_protocol(name)
    assert plan.protocol.name == name
    year = name.rpartition("-")[2]
    cited = plan.protocol.citation
    assert cited == "common practice, no source" or re.search(r", \d{4}, doi:10\.\d{4}/\S+$", cited)
    assert not year.isdigit() or f", {year}, doi:" in cited
    assert re.search(r"[Ff]rom memory|[Cc]ommon practice", plan.protocol.from_memory)


@pytest.mark.parametrize("name", NAMES)
def test_each_is_nobodys_yet(name):
    plan = read_protocol(name)
    assert plan.patient is None
    assert not plan.own_ranges
    assert not plan.calendar
    assert {(each.from_date, each.until_date) for each in plan.stages} == {(None, None)}
    assert {each.side for stage in plan.stages for each in stage.exercises} == {"left"}


@pytest.mark.parametrize("name", NAMES)
def test_the_compressive_angle_is_given_for_the_motion_that_compresses_and_for_no_other(name):
    plan = read_protocol(name)
    site = tendon_site(plan.tendon_site)
    for each in [each for stage in plan.stages for each in stage.exercises]:
        compresses = (each.joint, each.motion) == (site.joint, site.motion)
        assert (each.compression_threshold is not None) == compresses
        if each.compression_threshold is not None and each.compression_threshold.deg == 0:
            assert each.compression_threshold.basis == "neutral by convention"


@pytest.mark.parametrize(
    ("name", "a_day", "a_week", "in_all"), [("alfredson-1998", 180, 1260, 15_120), ("jonsson-2008", 90, 630, 7560)]
)
def test_repetitions_are_those_published(name, a_day, a_week, in_all):
    (total,) = stage_totals(*read_protocol(name).stages)
    assert (total.repetitions.a_day, total.repetitions.a_week, total.repetitions.in_all) == (a_day, a_week, in_all)
    assert total.weeks == 12


def test_decline_squats_are_3_x_15_twice_a_day_for_12_weeks():
    (stage,) = read_protocol("purdam-2004").stages
    (squat,) = stage.exercises
    assert (squat.sets, squat.repetitions, squat.per_day, stage.weeks) == (3, 15, 2, (1, 12))
    (total,) = stage_totals(stage)
    assert (total.repetitions.a_day, total.repetitions.in_all) == (90, 7560)


def test_time_under_tension_of_a_heavy_slow_session_falls_by_week():
    # 3 exercises of 3 x 15, 3 x 12, 4 x 10, 4 x 8 and 4 x 6 repetitions of 6 s
    totals = [stage_totals(each) for each in read_protocol("beyer-2015").stages]
    seconds = [total.under_tension_s.a_session for (total,) in totals]
    assert seconds == [810, 648, 720, 576, 432]


@pytest.mark.parametrize("name", ["beyer-2015", "kongsgaard-2009"])
def test_heavy_slow_programmes_go_from_15_to_6_repetitions_maximum_over_12_weeks(name):
    stages = read_protocol(name).stages
    assert [each.weeks for each in stages] == [(1, 1), (2, 3), (4, 5), (6, 8), (9, 12)]
    for stage, maximum in zip(stages, (15, 12, 10, 8, 6), strict=True):
        assert {(each.repetitions, each.repetition_maximum) for each in stage.exercises} == {(maximum, maximum)}
        assert {each.days_per_week for each in stage.exercises} == {3}


def test_kongsgaards_programme_is_four_sets_of_three_exercises_throughout():
    for stage in read_protocol("kongsgaard-2009").stages:
        assert [each.sets for each in stage.exercises] == [4, 4, 4]


def test_the_classic_eccentric_goes_up_on_the_other_leg():
    for name in ("alfredson-1998", "jonsson-2008", "purdam-2004"):
        for each in read_protocol(name).stage.exercises:
            assert (each.load.eccentric, each.load.concentric) == ("single leg", "other leg")
    assert [each.knee for each in read_protocol("alfredson-1998").stage.exercises] == ["straight", "bent"]


def test_holds_are_as_long_as_published():
    (total,) = stage_totals(read_protocol("rio-2015").stage)
    assert (total.under_tension_s.a_session, total.under_tension_s.a_day) == (225, None)
    (knee,) = read_protocol("rio-2015").stage.exercises
    assert (knee.kind, knee.sets * knee.repetitions, knee.tempo.end_range_hold_s, knee.rest_s) == ("hold", 5, 45, 120)
    (ankle,) = read_protocol("end-range-holds").stage.exercises
    assert ankle.kind == "hold"
    assert 15 <= ankle.tempo.end_range_hold_s <= 20


def test_a_drop_at_the_insertion_ends_on_the_floor():
    (drop,) = read_protocol("jonsson-2008").stage.exercises
    assert drop.ends_on_floor
    assert drop.surface == "floor"


def test_silbernagels_first_phase_stays_on_the_floor_and_all_keep_the_pain_rules():
    stages = read_protocol("silbernagel-2007").stages
    assert [each.weeks for each in stages] == [(1, 2), (2, 5), (3, 12), (12, 26)]
    standing = [each for each in stages[0].exercises if each.name != "seatedraise"]
    assert len(standing) == 3
    assert all(each.ends_on_floor for each in standing)
    for each in stages[:3]:
        assert (each.criteria.pain_during_at_most, each.criteria.pain_after_at_most) == (5, 5)
        assert each.criteria.no_rise_week_on_week
    text = protocol_bytes("silbernagel-2007").decode()
    assert text.count("with pain at the insertion stay on the floor") == 2


def test_the_ladder_climbs_from_minus_10_to_the_own_limit():
    stages = read_protocol("insertional-ladder").stages
    limits = [{each.limit_deg for each in stage.exercises} for stage in stages]
    assert limits == [{-10}, {None}, {5}, {10}, {None}]
    assert [each.ends_on_floor for each in stages[1].exercises] == [True]
    assert {each.share_of_own_range for each in stages[4].exercises} == {(0.8, 1.0)}
    assert (
        "finer than the between-day change that can be detected"
        in read_protocol("insertional-ladder").protocol.from_memory
    )


def test_the_hip_programme_asks_for_no_adduction_wherever_adduction_is_measured():
    measured = [
        each for stage in read_protocol("leap-hip").stages for each in stage.exercises if each.motion == "adduction"
    ]
    assert len(measured) == 10
    assert {each.limit_deg for each in measured} == {0}


def test_hamstring_stages_go_into_hip_flexion():
    first, second, third = read_protocol("goom-2016").stages
    assert [each.limit_deg for each in (*first.exercises, *second.exercises)] == [30, 30]
    assert [each.end_range_deg for each in third.exercises] == [(70, 90)]


@pytest.mark.parametrize("name", NAMES)
def test_a_hold_that_may_show_no_movement_at_its_ends_says_so(name):
    text = protocol_bytes(name).decode()
    for stage in tomllib.loads(text)["stage"]:
        for each in stage["exercise"]:
            # held where the leg rests anyway: on a machine, lying, near neutral, or from the same posture
            if each.get("kind") == "hold" and each.get("surface") != "step":
                assert re.search(r"tap a\s*(# )?sensor|tapped three times|tap\s*(# )?three times", text)


@pytest.mark.parametrize("name", NAMES)
def test_the_files_are_narrow_enough_to_be_read(name):
    assert max(map(len, protocol_bytes(name).decode().splitlines())) <= 120


def test_an_unknown_programme_is_named_with_those_that_are_known():
    with pytest.raises(PlanError, match=r"must be one of alfredson-1998, .*got 'alfredson-1989'; .*alfredson-1998"):
        read_protocol("alfredson-1989")
