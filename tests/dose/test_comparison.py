import math
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imu_rom.dose.comparison import compare_session
from imu_rom.dose.conformance import normal_cdf
from imu_rom.dose.exercise import CompressionThreshold, Decide, Exercise, Load, Tempo
from imu_rom.motion.repetitions import Repetition, RepetitionSet

RATE_HZ = 50.0
HELD = Tempo(eccentric_s=2.5, end_range_hold_s=2.0, concentric_s=1.5, top_pause_s=1.0)
WINDOW = (5.0, 15.0)


def prescribe(**changes):
    """An invented prescription of which each test changes what it is about."""
    names = {"name": "heeldrop", "joint": "ankle", "motion": "dorsiflexion", "side": "left"}
    names |= {"proximal": "shank", "distal": "foot", "sets": 1, "repetitions": 5}
    return Exercise(**{**names, "compression_threshold": CompressionThreshold(4.0, "clinician"), **changes})


def perform(end_ranges_deg, *, own_deg=0.3, complete=None, start_deg=-25.0, rest_s=20.0, rate_hz=RATE_HZ):
    """Heel drops in straight lines: 2.5 s down, 2 s held, 1.5 s up, 1 s pause; one list of end ranges a set."""
    corners, sets, at_s = [(0.0, start_deg)], [], 5.0
    for ends in end_ranges_deg:
        repetitions = []
        for place, end_deg in enumerate(ends):
            corners += [(at_s, start_deg), (at_s + 2.5, end_deg), (at_s + 4.5, end_deg), (at_s + 6, start_deg)]
            times = {"start_s": at_s, "end_range_s": at_s + 3.5, "stop_s": at_s + 6}
            times |= {"hold_start_s": at_s + 2.5, "hold_stop_s": at_s + 4.5}
            angles = {"end_range_deg": end_deg, "end_range_uncertainty_deg": own_deg, "held_deg": end_deg}
            done = complete is None or complete[place]
            repetitions.append(Repetition(**times, **angles, start_deg=start_deg, complete=done))
            at_s += 7
        sets.append(RepetitionSet(tuple(repetitions)))
        at_s += rest_s
    at = np.arange(round(at_s * rate_hz) + 1) / rate_hz
    return sets, np.interp(at, *zip(*corners, strict=True))


def compare(exercise, end_ranges_deg, *, u_shared_deg=2.0, u_set_deg=1.0, made=None, **options):
    sets, angle_deg = perform(end_ranges_deg) if made is None else made
    shares = {"u_shared_deg": u_shared_deg, "u_set_deg": u_set_deg}
    return compare_session(exercise, sets, RATE_HZ, angle_deg, **shares, **options)


def one_repetition(exercise, end_deg=8.0, **options):
    return compare(exercise, [[end_deg]], **options).sets[0].repetitions[0]


def phi(z):
    return float(normal_cdf(z))


# one repetition


def test_reached_and_within_limit_take_all_three_parts_of_the_uncertainty():
    done = one_repetition(prescribe(end_range_deg=WINDOW, limit_deg=18.0), 8.0)
    u = math.sqrt(2.0**2 + 1.0**2 + 0.3**2)
    assert done.probability_reached == pytest.approx(phi((8 - 5) / u))
    assert done.probability_within_limit == pytest.approx(phi((18 - 8) / u))
    assert (done.reached, done.within_limit) == ("yes", "yes")
    assert (done.end_range_low_deg, done.end_range_high_deg) == pytest.approx((8 - 1.96 * u, 8 + 1.96 * u), abs=1e-3)


@pytest.mark.parametrize(("end_deg", "reached"), [(7.0, "yes"), (6.0, "undecided"), (4.0, "undecided"), (3.0, "no")])
def test_reached_is_answered_at_the_decide_value(end_deg, reached):
    assert one_repetition(prescribe(end_range_deg=WINDOW), end_deg).reached == reached


def test_what_was_held_counts_where_a_hold_is_prescribed():
    sets, angle = perform([[8.0]])
    shallow = replace(sets[0].repetitions[0], held_deg=5.0)
    made = ([RepetitionSet((shallow,))], angle)
    with_hold = compare(prescribe(end_range_deg=WINDOW, tempo=HELD), None, made=made).sets[0].repetitions[0]
    assert with_hold.probability_reached == pytest.approx(0.5)
    without = compare(prescribe(end_range_deg=WINDOW), None, made=made).sets[0].repetitions[0]
    assert without.reached == "yes"
    never_held = ([RepetitionSet((replace(shallow, held_deg=None),))], angle)
    fallback = compare(prescribe(end_range_deg=WINDOW, tempo=HELD), None, made=never_held).sets[0].repetitions[0]
    assert fallback.reached == "yes"


def test_past_the_window_but_within_the_limit_is_deeper_than_asked():
    asked = prescribe(end_range_deg=WINDOW, limit_deg=24.0)
    assert not one_repetition(asked, 14.9).deeper_than_asked
    deeper = one_repetition(asked, 15.1)
    assert deeper.deeper_than_asked
    assert deeper.reached == "yes"
    too_deep = one_repetition(asked, 30.0)
    assert too_deep.within_limit == "no"
    assert not too_deep.deeper_than_asked
    assert not one_repetition(prescribe(end_range_deg=(5.0, math.inf)), 30.0).deeper_than_asked


@pytest.mark.parametrize(("spike_s", "within_limit"), [(0.16, "yes"), (0.30, "no")])
def test_the_limit_is_passed_only_by_two_tenths_of_a_second_without_a_break(spike_s, within_limit):
    sets, angle = perform([[8.0]])
    at = np.arange(len(angle)) / RATE_HZ
    angle[abs(at - 8.5) <= spike_s / 2] = 40.0
    done = compare(prescribe(limit_deg=18.0), None, made=(sets, angle)).sets[0].repetitions[0]
    assert done.within_limit == within_limit
    assert done.sustained_deg == pytest.approx(8.0 if within_limit == "yes" else 40.0, abs=0.5)


def test_two_short_passes_do_not_add_up_to_one():
    sets, angle = perform([[8.0]])
    at = np.arange(len(angle)) / RATE_HZ
    angle[(abs(at - 8.0) <= 0.07) | (abs(at - 9.0) <= 0.07)] = 40.0
    assert compare(prescribe(limit_deg=18.0), None, made=(sets, angle)).sets[0].past_limit == 0


def test_exposure_of_one_repetition_is_that_of_its_trapezoid():
    done = one_repetition(prescribe(load=Load(eccentric="single leg", concentric="both legs")), 10.0, u_set_deg=0.0)
    ramps_s = 4.0 * (10 - 4) / 35
    assert done.exposure.past_threshold_s == pytest.approx(2 + ramps_s)
    assert done.exposure.excess_deg_s == pytest.approx((2 + ramps_s / 2) * 6)
    assert done.exposure.longest_s == pytest.approx(2 + ramps_s)
    low, high = (2 + 4.0 * (10 - 4 + shift) / 35 for shift in (-1.959964 * 2, 1.959964 * 2))
    assert done.exposure.past_threshold_low_s == pytest.approx(low, abs=1e-5)
    assert done.exposure.past_threshold_high_s == pytest.approx(high, abs=1e-5)
    assert done.curve.time_past(4.0) == pytest.approx(done.exposure.past_threshold_s)


DOWN_S, UP_S = 2 + 2.5 * 6 / 35, 1.5 * 6 / 35  # the hold belongs to the way down


@pytest.mark.parametrize(
    ("load", "loaded_s", "unloaded_s"),
    [
        (Load("single leg", "both legs"), DOWN_S + UP_S, 0),
        (Load("single leg", "other leg"), DOWN_S, UP_S),
        (Load("unweighted", "unweighted"), 0, DOWN_S + UP_S),
        (Load(eccentric="both legs"), DOWN_S, 0),
        (Load(concentric="unweighted"), 0, UP_S),
        (Load(share_of_body_weight=1.0), None, None),
    ],
)
def test_loaded_and_unloaded_time_follow_the_declaration_for_each_phase(load, loaded_s, unloaded_s):
    session = compare(prescribe(load=load, sets=2), [[10.0], [10.0]])
    done = session.sets[0].repetitions[0].exposure
    assert (done.loaded_s, done.unloaded_s) == pytest.approx((loaded_s, unloaded_s))
    double = (None, None) if loaded_s is None else (2 * loaded_s, 2 * unloaded_s)
    assert (session.exposure.loaded_s, session.exposure.unloaded_s) == pytest.approx(double)


def test_a_gap_leaves_its_repetition_undecided_and_widens_its_interval():
    exercise = prescribe(end_range_deg=WINDOW, limit_deg=30.0)
    whole, gapped = compare(exercise, [[10.0] * 3]), compare(exercise, [[10.0] * 3], gaps=[(13.0, 13.5)])
    before, after = whole.sets[0].repetitions[1], gapped.sets[0].repetitions[1]
    assert after.touched_by == ("gap",)
    assert (after.reached, after.within_limit) == ("undecided", "undecided")
    assert after.probability_reached == before.probability_reached
    # the repetition starts at 12 s and passes 4 degrees at 14.07 s: the gap lies before, but who knows
    assert after.exposure.past_threshold_s == pytest.approx(before.exposure.past_threshold_s)
    assert after.exposure.past_threshold_low_s == pytest.approx(before.exposure.past_threshold_low_s)
    assert after.exposure.past_threshold_high_s == pytest.approx(before.exposure.past_threshold_high_s + 0.5)
    assert after.curve.unseen_s == pytest.approx(0.5)
    assert gapped.sets[0].undecided == 1
    for place in (0, 2):
        assert gapped.sets[0].repetitions[place].touched_by == ()
        assert gapped.sets[0].repetitions[place].exposure == whole.sets[0].repetitions[place].exposure
    for total in (gapped.sets[0].exposure, gapped.exposure):
        assert total.past_threshold_high_s == pytest.approx(whole.exposure.past_threshold_high_s + 0.5)
        assert total.past_threshold_low_s == pytest.approx(whole.exposure.past_threshold_low_s)


def test_a_gap_while_past_the_threshold_is_taken_out_of_the_low_end_only():
    whole, gapped = compare(prescribe(), [[10.0]]), compare(prescribe(), [[10.0]], gaps=[(8.0, 8.75)])
    assert gapped.exposure.past_threshold_s == pytest.approx(whole.exposure.past_threshold_s - 0.75)
    assert gapped.exposure.past_threshold_low_s == pytest.approx(whole.exposure.past_threshold_low_s - 0.75)
    assert gapped.exposure.past_threshold_high_s == pytest.approx(whole.exposure.past_threshold_high_s)


def test_another_disturbance_makes_its_repetition_undecided_too():
    done = compare(prescribe(end_range_deg=WINDOW), [[10.0] * 3], disturbed=[("clipping", 4.0, 5.5)]).sets[0]
    assert [each.touched_by for each in done.repetitions] == [("clipping",), (), ()]
    assert [each.reached for each in done.repetitions] == ["undecided", "yes", "yes"]


def test_nothing_prescribed_is_said_so():
    done = compare(prescribe(compression_threshold=None), [[8.0] * 5])
    one = done.sets[0].repetitions[0]
    assert (one.reached, one.within_limit, one.exposure) == ("not prescribed", "not prescribed", None)
    assert (one.probability_reached, one.probability_within_limit, one.deeper_than_asked) == (None, None, False)
    assert one.curve.time_past(4.0) > 2
    assert (done.exposure, done.outside_sets_s, done.outside_sets_low_s, done.outside_sets_high_s) == (None,) * 4
    assert done.sets[0].verdict == "not prescribed"
    assert done.sets[0].exposure is None
    assert compare(prescribe(), [[8.0] * 5]).sets[0].verdict == "not prescribed"


# one set


def verdict(exercise, ends, **options):
    return compare(exercise, [ends], **options).sets[0].verdict


def test_verdicts_of_clear_sets():
    asked = prescribe(end_range_deg=WINDOW, limit_deg=18.0, past_threshold_s_per_set=(8.0, 18.0))
    assert verdict(asked, [10.0] * 5) == "met"
    assert verdict(asked, [10.0] * 4 + [24.0]) == "over"
    assert verdict(asked, [0.0] * 5) == "short"
    assert verdict(asked, [10.0] * 3) == "short"  # two of five left out
    assert verdict(asked, [5.0] * 5) == "undecided"
    assert verdict(replace(asked, past_threshold_s_per_set=(1.0, 5.0)), [10.0] * 5) == "over"
    assert verdict(replace(asked, past_threshold_s_per_set=(25.0, 40.0)), [10.0] * 5) == "short"
    assert verdict(replace(asked, past_threshold_s_per_set=(13.4, 40.0)), [10.0] * 5) == "undecided"


def test_the_limit_is_judged_first_and_at_its_own_decide_value():
    asked = prescribe(end_range_deg=WINDOW, limit_deg=18.0)
    assert verdict(asked, [0.0] * 4 + [18.0]) == "undecided"
    assert verdict(asked, [0.0] * 4 + [14.5]) == "undecided"  # kept with 0.94
    assert verdict(replace(asked, decide=Decide(limit=0.9)), [0.0] * 4 + [14.5]) == "short"
    assert verdict(asked, [0.0] * 4 + [14.0]) == "short"


def test_stopping_at_neutral_is_judged_by_the_limit():
    floor = prescribe(
        end_range_deg=(-10.0, 0.0),
        limit_deg=0.0,
        tempo=HELD,
        start_deg=-25.0,
        compression_threshold=CompressionThreshold(0.0, "neutral by convention"),
    )
    done = compare(floor, [[0.0] * 5]).sets[0]
    assert done.verdict == "undecided"
    assert done.probability_within_limit == pytest.approx(0.5, abs=0.1)
    assert (done.prescribed_low_s, done.prescribed_high_s) == (None, None)
    assert done.exposure.past_threshold_low_s == 0
    assert done.exposure.past_threshold_high_s > 10
    assert compare(floor, [[-6.0] * 5]).sets[0].verdict == "met"
    assert compare(floor, [[6.0] * 5]).sets[0].verdict == "over"


def test_prescribed_time_is_derived_from_hold_and_tempo():
    asked = prescribe(tempo=HELD, start_deg=-25.0, end_range_deg=WINDOW)
    done = compare(asked, [[10.0] * 5]).sets[0]
    assert done.prescribed_derived
    assert done.prescribed_low_s < done.exposure.past_threshold_s < done.prescribed_high_s
    assert done.verdict == "met"
    given_s = compare(replace(asked, past_threshold_s_per_set=(20.0, 60.0)), [[10.0] * 5]).sets[0]
    assert (given_s.prescribed_low_s, given_s.prescribed_high_s, given_s.prescribed_derived) == (20.0, 60.0, False)


def test_counts_are_of_complete_repetitions_and_the_limit_of_all():
    made = perform([[10.0, 10.0, 0.0, 5.0, 25.0]], complete=[True, True, True, True, False])
    done = compare(prescribe(end_range_deg=WINDOW, limit_deg=18.0), None, made=made).sets[0]
    assert (done.complete, done.partial, done.prescribed_repetitions) == (4, 1, 5)
    assert (done.reached, done.short, done.undecided, done.past_limit) == (2, 1, 1, 1)
    assert done.hold_s == pytest.approx(10.0)
    assert done.verdict == "over"
    assert (done.start_s, done.stop_s) == (5.0, 39.0)


def test_a_partial_repetition_is_no_repetition():
    asked = prescribe(end_range_deg=WINDOW)
    done = perform([[10.0] * 5], complete=[True, True, True, False, False])
    assert compare(asked, None, made=done).sets[0].verdict == "short"
    assert compare(asked, None, made=perform([[10.0] * 5])).sets[0].verdict == "met"


def test_without_a_window_a_repetition_done_counts_as_reached():
    asked = prescribe(limit_deg=18.0)
    done = compare(asked, [[8.0] * 5]).sets[0]
    assert done.verdict == "met"
    assert done.probability_reached is None
    assert (done.reached, done.short, done.undecided) == (0, 0, 0)
    assert verdict(asked, [8.0] * 2) == "short"


def test_a_set_of_one_is_as_sure_as_its_repetition():
    done = compare(prescribe(end_range_deg=WINDOW, limit_deg=12.0, repetitions=1), [[8.0]]).sets[0]
    assert done.probability_reached == pytest.approx(done.repetitions[0].probability_reached, abs=1e-3)
    assert done.probability_within_limit == pytest.approx(done.repetitions[0].probability_within_limit, abs=1e-3)


def test_a_gap_opens_the_verdict_only_where_it_could_change_it():
    asked = prescribe(end_range_deg=WINDOW)
    third = [(19.5, 20.0)]
    assert verdict(asked, [10.0] * 5) == "met"
    assert verdict(asked, [10.0] * 5, gaps=third) == "met"  # four of five are enough
    assert verdict(asked, [10.0] * 4 + [0.0], gaps=third) == "undecided"
    assert verdict(asked, [0.0] * 5, gaps=third) == "short"
    limited = prescribe(end_range_deg=WINDOW, limit_deg=20.0)
    assert verdict(limited, [10.0] * 5) == "met"
    assert verdict(limited, [10.0] * 5, gaps=third) == "undecided"
    assert verdict(limited, [10.0] * 4 + [27.0], gaps=third) == "over"


def test_a_partial_repetition_that_a_gap_cuts_may_have_been_a_complete_one():
    asked = prescribe(end_range_deg=WINDOW)
    made = perform([[10.0] * 5], complete=[True, True, True, False, False])
    assert compare(asked, None, made=made, gaps=[(26.5, 27.0)]).sets[0].verdict == "undecided"
    assert compare(asked, None, made=made, gaps=[(12.5, 13.0)]).sets[0].verdict == "short"  # a complete one


def test_a_long_gap_between_repetitions_may_hide_some():
    sets, angle = perform([[10.0] * 5])
    kept = [each for place, each in enumerate(sets[0].repetitions) if place != 2]
    made = ([RepetitionSet(tuple(kept))], angle)
    asked = prescribe(end_range_deg=WINDOW, decide=Decide(share_of_repetitions=1.0))
    assert compare(asked, None, made=made).sets[0].verdict == "short"
    hiding = compare(asked, None, made=made, gaps=[(18.9, 25.1)]).sets[0]
    assert hiding.verdict == "undecided"
    assert hiding.exposure.past_threshold_high_s == pytest.approx(
        compare(asked, None, made=made).sets[0].exposure.past_threshold_high_s + 6.2
    )
    assert compare(asked, None, made=made, gaps=[(19.0, 22.0)]).sets[0].verdict == "short"  # too short to hide one
    limited = prescribe(limit_deg=20.0, decide=Decide(share_of_repetitions=0.5))
    assert compare(limited, None, made=made).sets[0].verdict == "met"
    assert compare(limited, None, made=made, gaps=[(18.9, 25.1)]).sets[0].verdict == "undecided"


def test_a_gap_opens_the_time_as_far_as_it_reaches():
    asked = prescribe(past_threshold_s_per_set=(8.0, 15.5))
    sure = {"u_shared_deg": 0.2, "u_set_deg": 0.0}
    assert verdict(asked, [10.0] * 5, **sure) == "met"  # 13.4 s
    assert verdict(asked, [10.0] * 5, **sure, gaps=[(11.1, 11.9)]) == "met"
    assert verdict(asked, [10.0] * 5, **sure, gaps=[(11.1, 11.9), (18.1, 18.9), (25.1, 25.9)]) == "undecided"


# a session


def test_totals_come_before_the_grouping():
    done = compare(prescribe(sets=3, repetitions=4), [[8.0] * 4, [8.0] * 3])
    assert (done.complete, done.partial, done.prescribed_sets, done.prescribed_repetitions) == (7, 0, 3, 12)
    assert [each.number for each in done.sets] == [1, 2]
    assert [each.number for each in done.sets[1].repetitions] == [1, 2, 3]
    for name in ("past_threshold_s", "excess_deg_s"):
        parts = [getattr(each.exposure, name) for each in done.sets]
        assert getattr(done.exposure, name) == pytest.approx(sum(parts))
        assert parts[0] == pytest.approx(sum(getattr(each.exposure, name) for each in done.sets[0].repetitions))


def test_without_any_set_the_exposure_is_nothing():
    done = compare(prescribe(), None, made=([], np.full(500, -20.0)))
    assert done.sets == ()
    assert (done.exposure.past_threshold_s, done.exposure.past_threshold_high_s) == (0, 0)
    assert done.outside_sets_high_s == 0


def test_the_interval_of_several_sets_is_joint_over_their_zero():
    ends = [[9.0] * 5, [7.0] * 5, [5.0] * 5]
    done = compare(prescribe(sets=3), ends, u_shared_deg=1.5, u_set_deg=2.0)
    draw = np.random.default_rng(99)
    shared, slow = draw.normal(0, 1.5, 200_000), draw.normal(0, 2.0, (3, 200_000))
    time_s = np.zeros(200_000)
    for end, own in zip((9.0, 7.0, 5.0), slow, strict=True):
        over = end - 4.0 + shared + own
        time_s += 5 * np.where(over > 0, 2 + 4.0 * over / (end + 25), 0)  # threshold never below the start here
    low, high = np.quantile(time_s, [0.025, 0.975])
    assert done.exposure.past_threshold_low_s == pytest.approx(low, abs=0.3)
    assert done.exposure.past_threshold_high_s == pytest.approx(high, abs=0.3)
    assert done.exposure.past_threshold_high_s < sum(each.exposure.past_threshold_high_s for each in done.sets)
    again = compare(prescribe(sets=3), ends, u_shared_deg=1.5, u_set_deg=2.0)
    assert again.exposure == done.exposure


def test_without_slow_error_the_sets_intervals_add_up():
    done = compare(prescribe(sets=2), [[9.0] * 5, [7.0] * 5], u_set_deg=0.0)
    for name in ("past_threshold_low_s", "past_threshold_high_s"):
        assert getattr(done.exposure, name) == pytest.approx(sum(getattr(each.exposure, name) for each in done.sets))


def test_time_past_the_threshold_outside_the_repetitions():
    sets, angle = perform([[10.0] * 2, [10.0] * 2])
    at = np.arange(len(angle)) / RATE_HZ
    angle[(at >= 25) & (at <= 28)] = 12.0  # standing with the knee forward, between the sets
    angle[at <= 2] = 30.0  # taping the sensors on
    made = (sets, angle)
    done = compare(prescribe(), None, made=made, worn_start_s=3.0)
    edges = 2 * (12 - 4) / 37 / RATE_HZ  # the jumps take a sample
    assert done.outside_sets_s == pytest.approx(3 + edges)
    assert done.outside_sets_low_s == pytest.approx(3, abs=0.05)
    assert compare(prescribe(), None, made=made, worn_stop_s=26.5).outside_sets_s == pytest.approx(2 + 1.5, abs=0.05)
    gapped = compare(prescribe(), None, made=made, worn_start_s=3.0, gaps=[(25.5, 26.0), (30.0, 31.0), (8.0, 8.5)])
    assert gapped.outside_sets_s == pytest.approx(done.outside_sets_s - 0.5)
    assert gapped.outside_sets_high_s == pytest.approx(done.outside_sets_high_s - 0.5 + 1.5)


@settings(max_examples=25, deadline=None)
@given(
    st.integers(-40, 40).map(lambda n: n / 2),
    st.lists(st.integers(-4, 40).map(lambda n: n / 2), min_size=1, max_size=6),
)
def test_shifting_angles_and_plan_together_changes_no_answer(shift_deg, ends):
    asked = prescribe(end_range_deg=WINDOW, limit_deg=14.0, past_threshold_s_per_set=(5.0, 12.0))
    moved = replace(
        asked,
        end_range_deg=(WINDOW[0] + shift_deg, WINDOW[1] + shift_deg),
        limit_deg=14.0 + shift_deg,
        compression_threshold=CompressionThreshold(4.0 + shift_deg, "clinician"),
    )
    here = compare(asked, [ends])
    there = compare(moved, None, made=perform([[end + shift_deg for end in ends]], start_deg=-25.0 + shift_deg))
    assert here.sets[0].verdict == there.sets[0].verdict
    for name in ("reached", "within_limit", "deeper_than_asked"):
        assert [getattr(r, name) for r in here.sets[0].repetitions] == [
            getattr(r, name) for r in there.sets[0].repetitions
        ]
    for name in ("reached", "within_limit", "above_window", "below_window"):
        one, other = (getattr(each.sets[0], f"probability_{name}") for each in (here, there))
        assert one == pytest.approx(other, abs=1e-9)
    assert here.exposure.past_threshold_high_s == pytest.approx(there.exposure.past_threshold_high_s, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(-5, 25), min_size=1, max_size=6), st.floats(0.1, 5))
def test_going_deeper_never_makes_reaching_less_or_keeping_the_limit_more_likely(ends, deeper_deg):
    asked = prescribe(end_range_deg=WINDOW, limit_deg=18.0, past_threshold_s_per_set=(5.0, 12.0))
    here, there = compare(asked, [ends]).sets[0], compare(asked, [[end + deeper_deg for end in ends]]).sets[0]
    assert there.probability_reached >= here.probability_reached - 1e-12
    assert there.probability_within_limit <= here.probability_within_limit + 1e-12
    assert there.probability_above_window >= here.probability_above_window - 1e-12
    assert there.probability_below_window <= here.probability_below_window + 1e-12
    for one in (here, there):
        assert 0 <= one.probability_above_window + one.probability_below_window <= 1 + 1e-9
        exposure = one.exposure
        assert exposure.past_threshold_low_s <= exposure.past_threshold_s <= exposure.past_threshold_high_s


def test_an_hour_with_45_repetitions_is_compared_quickly():
    exercise = prescribe(sets=3, repetitions=15, end_range_deg=WINDOW, limit_deg=18.0, tempo=HELD, start_deg=-25.0)
    sets, angle = perform([[8.0] * 15] * 3, rate_hz=100.0)
    hour = np.concatenate((angle, -10 + 10 * np.sin(np.arange(360_000 - len(angle)) / 20)))
    began = time.process_time()
    done = compare_session(exercise, sets, 100.0, hour, u_shared_deg=2.0, u_set_deg=1.0)
    took_s = time.process_time() - began
    assert done.complete == 45
    assert took_s < 0.5  # about 0.05 s
