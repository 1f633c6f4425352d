"""The budget: what is combined, what is shared, and how each sample's uncertainty follows from it."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.errors import SettingError
from imu_rom.motion.soft_tissue import PLACEMENTS
from imu_rom.motion.uncertainty import FromRecording, angle_budget, sample_standard_uncertainty_deg
from imu_rom.settings import UncertaintySettings

DEGREES = st.floats(0, 20)
STIFF = UncertaintySettings(soft_tissue_locked_share=0.0)


def four_parts(zero, slow, fast, attitude):
    return UncertaintySettings(
        zero_pose_deg=zero, soft_tissue_slow_deg=slow, soft_tissue_fast_deg=fast, attitude_deg=attitude
    )


@given(DEGREES, DEGREES, DEGREES, DEGREES)
def test_parts_combine_as_independent_and_the_zero_is_kept_apart(zero, slow, fast, attitude):
    """Square root of the sum of squares (JCGM 100:2008, 5.1.2, from memory)."""
    budget = angle_budget(four_parts(zero, slow, fast, attitude))
    assert budget.u_shared_deg == pytest.approx(zero)
    assert budget.u_set_deg == pytest.approx(math.hypot(slow, attitude))
    assert budget.u_common_deg == pytest.approx(math.hypot(zero, slow, attitude))


def test_budget_of_the_trades_example():
    """Zero pose 2.0, soft tissue 1.5, filter and heading 1.0: 2.693 (own arithmetic, common practice)."""
    budget = angle_budget(four_parts(2.0, 1.5, 0.0, 1.0))
    assert budget.u_common_deg == pytest.approx(2.693, abs=0.0005)


def test_an_arbitrary_zero_is_not_off_from_anything():
    budget = angle_budget(UncertaintySettings(), has_zero=False)
    assert budget.u_shared_deg == 0.0
    assert budget.u_common_deg == budget.u_set_deg > 0


@given(st.floats(0, 60), st.floats(-90, 90))
def test_an_axis_that_is_off_costs_a_share_of_the_excursion(axis_deg, excursion_deg):
    plain = angle_budget(STIFF)
    budget = angle_budget(STIFF, FromRecording(axis_deg=axis_deg, excursion_deg=excursion_deg))
    other_way = angle_budget(STIFF, FromRecording(axis_deg=axis_deg, excursion_deg=-excursion_deg))
    part = budget.parts_deg["axis"]
    assert part == other_way.parts_deg["axis"]
    assert 0 <= part <= 1.5 * abs(excursion_deg)
    assert budget.u_set_deg == pytest.approx(math.hypot(plain.u_set_deg, part))
    assert budget.u_shared_deg == plain.u_shared_deg


def test_an_axis_part_has_the_size_of_what_a_wrong_axis_loses():
    """An axis that is off by e scales the excursion by cos e; e falls in two directions, so e^2 is 2 u^2 on average."""
    draw = np.random.default_rng(1)
    off = np.radians(5.0) * draw.normal(size=(200_000, 2))
    lost = 30.0 * (1 - np.cos(np.hypot(*off.T)))
    part = angle_budget(STIFF, FromRecording(axis_deg=5.0, excursion_deg=30.0)).parts_deg["axis"]
    assert 0.5 * np.sqrt(np.mean(lost**2)) < part < 2 * np.sqrt(np.mean(lost**2))


COUNT = 500
NOTHING, ALL = np.zeros(COUNT, dtype=bool), np.ones(COUNT, dtype=bool)
BUDGET = angle_budget(UncertaintySettings())


def of_samples(drift_deg=0.0, missing=NOTHING, worn=ALL, budget=BUDGET, angle_deg=0.0):
    return both_of_samples(drift_deg, missing, worn, budget, angle_deg)[0]


def both_of_samples(drift_deg=0.0, missing=NOTHING, worn=ALL, budget=BUDGET, angle_deg=0.0):
    return sample_standard_uncertainty_deg(
        budget,
        np.broadcast_to(angle_deg, COUNT),
        25.0,
        drift_rad=np.radians(np.broadcast_to(drift_deg, COUNT)),
        missing=missing,
        worn=worn,
    )


def test_a_samples_uncertainty_holds_all_parts():
    parts = BUDGET.parts_deg
    assert of_samples() == pytest.approx(math.sqrt(sum(each**2 for each in parts.values())))
    assert parts.keys() == {
        "zero_pose", "soft_tissue_locked", "accelerometer_bias", "soft_tissue_slow", "attitude", "axis", "heading",
        "soft_tissue_fast",
    }  # fmt: skip


def test_drift_adds_to_the_rest_as_an_independent_part():
    still, drifted = (of_samples(drift_deg=each)[0] for each in (0.0, 20.0))
    assert drifted == pytest.approx(math.hypot(still, 20.0))


def test_nothing_is_known_before_wearing_and_where_nothing_was_delivered():
    worn, missing = ALL.copy(), NOTHING.copy()
    worn[:100] = False
    missing[300:320] = True
    found = of_samples(missing=missing, worn=worn)
    assert (found[:100] == 180.0).all()
    assert (found[300:320] == 180.0).all()
    assert (found[100:300] == of_samples()[0]).all()


def test_after_a_gap_the_inclination_is_found_again_within_seconds():
    missing = NOTHING.copy()
    missing[50:100] = True
    found = of_samples(missing=missing)
    assert found[100] > 2 * of_samples()[0]
    assert (np.diff(found[100:]) <= 0).all()
    assert found[100 + 15 * 25] == pytest.approx(of_samples()[0], rel=0.01)


def test_larger_parts_never_make_it_smaller():
    for name in ("zero_pose_deg", "soft_tissue_slow_deg", "soft_tissue_fast_deg", "attitude_deg"):
        larger = angle_budget(replace(UncertaintySettings(), **{name: 9.0}))
        assert (of_samples(budget=larger) > of_samples()).all()


def test_it_never_exceeds_half_a_turn():
    assert of_samples(drift_deg=1e6).max() == 180.0


def test_what_follows_the_angle_grows_with_it_and_is_shared_by_the_session():
    recording = FromRecording(tilt_growth=0.02, excursion_deg=50.0)
    budget = angle_budget(replace(UncertaintySettings(), soft_tissue_locked_share=0.01), recording)
    # shin and shoe: one share each, as independent
    assert budget.parts_deg["soft_tissue_locked"] == pytest.approx(0.01 * math.sqrt(2) * 50)
    assert budget.parts_deg["accelerometer_bias"] == pytest.approx(1.0)
    assert budget.share("session") == pytest.approx(math.hypot(0.01 * math.sqrt(2), 0.02))
    angle = np.linspace(-50.0, 50.0, COUNT)
    everything, shared = both_of_samples(budget=budget, angle_deg=angle)
    assert shared == pytest.approx(np.hypot(2.0, budget.share("session") * angle))
    assert shared[0] == pytest.approx(budget.u_shared_deg)
    assert everything == pytest.approx(np.sqrt(shared**2 + 0.6**2 + 0.5**2 + 0.8**2))


def test_a_clocks_offset_costs_where_the_joint_is_fast():
    budget = angle_budget(STIFF, FromRecording(rate_deg_s=40.0, clock_s=0.01))
    assert budget.parts_deg["clock"] == pytest.approx(0.4)
    assert budget.u_common_deg == angle_budget(STIFF).u_common_deg
    # one clock can't be off from itself, so there is no such term at all
    assert "clock" not in angle_budget(STIFF, FromRecording(rate_deg_s=40.0)).parts_deg
    assert angle_budget(STIFF, FromRecording(rate_deg_s=40.0, clock_s=0.0)).parts_deg["clock"] == 0.0
    still, moving = of_samples(budget=budget)[0], of_samples(budget=budget, angle_deg=np.arange(COUNT) * 4.0)[9]
    # 4 degrees a sample at 25 Hz are 100 deg/s
    assert moving == pytest.approx(math.hypot(still, 1.0))


def test_unknown_heading_in_the_sets_is_common_to_a_set():
    budget = angle_budget(STIFF, FromRecording(heading_deg=3.0))
    assert budget.constant_deg("set") == pytest.approx(math.hypot(angle_budget(STIFF).constant_deg("set"), 3.0))
    # a sample's own heading takes its place
    assert of_samples(budget=budget) == pytest.approx(of_samples(budget=angle_budget(STIFF)))


def test_a_midfoot_and_a_thigh_cost_and_a_rigid_mount_drops_the_flesh():
    def parts(proximal, distal, **changes):
        pair = (PLACEMENTS[proximal], PLACEMENTS[distal])
        settings = replace(UncertaintySettings(), **changes)
        return angle_budget(settings, FromRecording(excursion_deg=40.0), pair).parts_deg

    usual, midfoot, knee = parts("shin", "shoe"), parts("shin", "midfoot"), parts("thigh", "shin")
    for name in ("soft_tissue_slow", "soft_tissue_fast", "soft_tissue_locked"):
        assert usual[name] < midfoot[name]
        assert usual[name] < knee[name]
        assert parts("rigid", "rigid")[name] == parts("thigh", "skin", mount="rigid")[name] == 0
        assert 0 < parts("rigid", "shoe")[name] < usual[name]
    assert usual == angle_budget(UncertaintySettings(), FromRecording(excursion_deg=40.0)).parts_deg
    assert midfoot["soft_tissue_locked"] > 4 * usual["soft_tissue_locked"]
    with pytest.raises(SettingError, match="must be skin or rigid, got 'bone'"):
        parts("shin", "shoe", mount="bone")


def test_what_a_clinic_has_measured_is_taken_as_it_is_with_its_source():
    names = [each.name for each in fields(UncertaintySettings) if each.name != "mount"]
    own = replace(UncertaintySettings(), **dict.fromkeys(names, 0.25))
    thighs, tilted = (PLACEMENTS["thigh"], PLACEMENTS["thigh"]), FromRecording(excursion_deg=40.0, tilt_growth=0.01)
    budget = angle_budget(own, tilted, thighs, dict.fromkeys(names, "five tapings"))
    theirs = {each.name for each in budget.terms if each.source == "five tapings"}
    assert theirs == budget.parts_deg.keys() - {"axis", "heading"}
    assert budget.parts_deg["soft_tissue_slow"] == budget.parts_deg["soft_tissue_fast"] == 0.25
    # a share of the excursion
    assert budget.parts_deg["soft_tissue_locked"] == 10.0
    scaled = angle_budget(own, tilted, thighs)
    assert scaled.parts_deg["soft_tissue_slow"] > 0.25
    assert all(each.source for each in scaled.terms)


@given(st.floats(0.01, 15), DEGREES, DEGREES, DEGREES)
def test_rocking_beyond_what_is_held_already_makes_up_the_whole_of_it(apart_deg, slow, fast, attitude):
    """Where a recording shows no more than soft tissue and attitude are said to make, the budget is left as it is."""
    budget = angle_budget(four_parts(0.0, slow, fast, attitude), FromRecording(apart_deg=apart_deg))
    plain = angle_budget(four_parts(0.0, slow, fast, attitude))
    if apart_deg <= plain.combined_deg():
        assert budget == plain
    else:
        assert budget.combined_deg() == pytest.approx(apart_deg)
        # it is alike in each set, so that sets don't average it out
        assert budget.u_set_deg == plain.u_set_deg
