"""A plan in sentences: the numbers said are those of the plan and of the normal distribution."""

import math
from dataclasses import replace

import pytest
from scipy.stats import norm

from imu_rom.dose.exercise import CompressionThreshold, Exercise, Tempo
from imu_rom.dose.plan import Plan, Stage
from imu_rom.wording.plan_text import asked_for, describe_plan, not_decidable

HEEL_DROP = Exercise(
    name="heeldrop",
    joint="ankle",
    motion="dorsiflexion",
    side="left",
    proximal="shank",
    distal="foot",
    sets=3,
    repetitions=15,
    calibration_movement="plantarflexion",
    tempo=Tempo(eccentric_s=2.5, end_range_hold_s=2.0, concentric_s=1.5, top_pause_s=0.6),
    start_deg=-25.0,
    end_range_deg=(5.0, 15.0),
    limit_deg=18.0,
    compression_threshold=CompressionThreshold(4.0, "clinician"),
    past_threshold_s_per_set=(20.0, 60.0),
)


def plan(site="achilles insertion", **changes):
    exercise = replace(HEEL_DROP, **changes)
    return Plan(
        title="Left heel",
        tendon_site=site,
        stages=(Stage("floor level", (HEEL_DROP,)), Stage("into range", (exercise,))),
        current_stage="into range",
        patient="P-0017",
    )


def test_every_line_is_one_sentence():
    for sentence in describe_plan(plan(), 2.2):
        assert sentence.endswith(".")
        assert "\n" not in sentence
        assert "nan" not in sentence
        assert "None" not in sentence


def test_the_dose_is_said_with_its_numbers():
    text = " ".join(asked_for(plan()))
    assert "for P-0017 (recordings of BIDS subject P0017)" in text
    assert "3 sets of 15 repetitions of left ankle dorsiflexion" in text
    assert "start at -25 deg and end between 5 and 15 deg, measured from the zero" in text
    assert "18 deg is not to be passed." in text
    assert "compressed past 4 deg (basis: clinician)" in text
    assert "20 to 60 s past it." in text
    assert "Stages of the plan that do not apply: 'floor level'." in text
    assert "from memory, to be verified" in text


def test_derived_seconds_are_said_to_be_derived():
    text = " ".join(asked_for(plan(past_threshold_s_per_set=None)))
    assert "Each set should spend 32 to 52.5 s past it, derived from count, hold and tempo." in text
    text = " ".join(asked_for(plan(past_threshold_s_per_set=None, start_deg=None)))
    assert "not prescribed, and can't be derived" in text
    assert "Not prescribed: rest, start angle, frequency." in text


def test_where_the_limit_stops_short_of_the_compressive_angle_no_seconds_are_missed():
    short = {"end_range_deg": None, "past_threshold_s_per_set": None, "limit_deg": 4.0}
    assert "No time past it is asked for: the limit lies at it or before it." in asked_for(plan(**short))
    assert "can't be derived" in " ".join(asked_for(plan(**{**short, "limit_deg": 4.5})))


def test_holds_and_stretches_are_not_called_repetitions():
    held = {"tempo": Tempo(end_range_hold_s=15.0), "past_threshold_s_per_set": None}
    for kind, many in (("hold", "holds"), ("stretch", "stretches")):
        for said in describe_plan(plan(kind=kind, **held), 2.2):
            assert "repetition" not in said.replace("does not shrink with more repetitions", "")
        assert f"80 % of the {many} of a set" in " ".join(describe_plan(plan(kind=kind, **held), 2.2))


def test_where_the_sign_comes_from_is_said():
    assert any("calibration movement, plantarflexion" in each for each in asked_for(plan()))
    mounted = plan(mounting={"shank": "z outward, x up"})
    assert any("declared mounting (shank: z outward, x up)" in each for each in asked_for(mounted))
    assert any("can't be analysed" in each for each in asked_for(plan(calibration_movement=None)))


def test_what_does_not_fit_is_pointed_at():
    text = " ".join(asked_for(plan(site="patellar")))
    assert "Look again: heeldrop counts ankle dorsiflexion as positive, but this site is compressed by knee" in text
    text = " ".join(asked_for(plan(compression_threshold=CompressionThreshold(4.0, "neutral by convention"))))
    assert "Look again: the basis is neutral by convention, which is 0 deg" in text
    assert "Look again" not in " ".join(asked_for(plan()))


def test_the_bands_are_those_of_the_normal_distribution():
    text = " ".join(not_decidable(plan(), 2.2))
    reached, kept = norm.ppf(0.80) * 2.2, norm.ppf(0.95) * 2.2
    assert f"between {5 - reached:.1f} and {5 + reached:.1f} deg (around the window's lower edge of 5 deg)" in text
    assert f"between {18 - kept:.1f} and {18 + kept:.1f} deg." in text
    assert "can't be shown to have kept the limit of 18 deg" in text
    assert (
        f"standard uncertainty of at most {3 / norm.ppf(0.95):.1f} deg) or a limit of at least {15 + kept:.1f}" in text
    )


def test_a_limit_at_the_windows_edge_can_only_be_moved():
    text = " ".join(not_decidable(plan(limit_deg=15.0), 2.2))
    assert "a limit of at least 18.6 deg would settle it" in text
    assert "better neutral pose" not in text


def test_a_narrow_window_and_a_near_limit_are_said():
    text = " ".join(not_decidable(plan(end_range_deg=(5.0, 6.0), limit_deg=7.0), 2.2))
    assert "the window from 5 to 6 deg is narrower than that" in text
    assert "no end range can be shown both to have reached the window and to have kept the limit of 7 deg" in text
    assert f"at most {2 / (norm.ppf(0.80) + norm.ppf(0.95)):.1f} deg would settle it" in text


def test_stopping_at_the_floor_says_what_would_settle_it():
    floor = plan(
        end_range_deg=(-4.0, 2.0),
        limit_deg=2.0,
        compression_threshold=CompressionThreshold(0.0, "neutral by convention"),
        past_threshold_s_per_set=None,
    )
    text = " ".join(describe_plan(floor, 2.2))
    assert f"with a probability of {norm.cdf(2 / 2.2):.2f}, not the 0.95 asked for" in text
    assert f"a better neutral pose (standard uncertainty of at most {2 / norm.ppf(0.95):.1f} deg)" in text
    assert f"limit_deg of at least {2.2 * norm.ppf(0.95):.1f}" in text
    assert "the floor as what ends a repetition instead of an angle" in text
    assert "not prescribed: the plan asks for stopping there, which the limit decides" in text
    # a better pose makes it go away
    assert "exactly at neutral" not in " ".join(not_decidable(floor, 1.0))


def test_seconds_that_contradict_count_and_hold_are_pointed_at():
    text = " ".join(not_decidable(plan(past_threshold_s_per_set=(70.0, 90.0)), 2.2))
    assert "look again: count, hold and tempo done exactly as asked to 10 deg spend about 40 s a set" in text
    text = " ".join(not_decidable(plan(past_threshold_s_per_set=(38.0, 42.0)), 2.2))
    assert "its verdict may stay undecided" in text
    text = " ".join(not_decidable(plan(), 2.2))
    assert "look again" not in text
    assert "may stay undecided" not in text


def test_an_open_window_is_said_without_infinity():
    text = " ".join(describe_plan(plan(end_range_deg=(5.0, math.inf)), 2.2))
    assert "end at 5 deg or more" in text
    assert "inf" not in text


def test_a_plan_of_counts_alone_leaves_nothing_undecided():
    bare = plan(
        end_range_deg=None, limit_deg=None, compression_threshold=None, past_threshold_s_per_set=None, start_deg=None
    )
    assert not_decidable(bare, 2.2)[1:] == [
        "heeldrop: the plan asks for nothing that this uncertainty could leave undecided."
    ]


@pytest.mark.parametrize("u_deg", [0.0, 0.5, 2.2, 10.0])
def test_any_uncertainty_can_be_said(u_deg):
    assert len(describe_plan(plan(), u_deg)) > 10


def test_the_floor_is_said_to_be_judged_by_the_foot_alone():
    floor = plan(end_range="floor", surface="floor", end_range_deg=None, limit_deg=None, past_threshold_s_per_set=None)
    text = " ".join(describe_plan(floor, 2.2))
    assert "Each repetition should end with the foot back on the floor" in text
    assert "to within 3 deg" in text
    assert "stays undecided where the heel is measured to stay raised by 2.2 to 3.8 deg" in text
    assert "end range" not in text.partition("Not prescribed:")[2].partition(".")[0]


def test_the_zero_is_said_with_what_it_is_worth():
    assert "taken for foot flat, shank upright" in " ".join(asked_for(plan()))
    measured = " ".join(describe_plan(plan(neutral_deg=-6.0, neutral_uncertainty_deg=1.0), 2.2))
    assert "the neutral pose itself was measured at -6 deg (standard uncertainty 1 deg)" in measured
    assert "heeldrop: with the zero that this plan names it is about 1.3 deg, 1 deg of it the zero's" in measured
    assert "their own standing" in " ".join(asked_for(plan(zero="own standing")))
