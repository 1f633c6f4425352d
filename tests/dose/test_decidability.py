"""What an uncertain angle leaves undecided, against values of the normal distribution."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from imu_rom.dose.decidability import decidability
from imu_rom.dose.exercise import CompressionThreshold, Decide, Exercise, Tempo

HEEL_DROP = Exercise(
    name="heeldrop",
    joint="ankle",
    motion="dorsiflexion",
    side="left",
    proximal="shank",
    distal="foot",
    sets=3,
    repetitions=15,
    tempo=Tempo(eccentric_s=2.5, end_range_hold_s=2.0, concentric_s=1.5),
    start_deg=-25.0,
    end_range_deg=(5.0, 15.0),
    limit_deg=18.0,
    compression_threshold=CompressionThreshold(4.0, "clinician"),
)


@given(u=st.floats(0.1, 6), reached=st.floats(0.55, 0.99), limit=st.floats(0.55, 0.99))
def test_at_the_edges_of_the_bands_the_probability_is_the_decide_value(u, reached, limit):
    bands = decidability(replace(HEEL_DROP, decide=Decide(reached=reached, limit=limit)), u)
    assert norm.sf(5, bands.reached_band_deg[1], u) == pytest.approx(reached)
    assert norm.sf(5, bands.reached_band_deg[0], u) == pytest.approx(1 - reached)
    assert norm.cdf(18, bands.limit_band_deg[0], u) == pytest.approx(limit)
    assert norm.cdf(18, bands.limit_band_deg[1], u) == pytest.approx(1 - limit)


def test_what_would_settle_it_does():
    bands = decidability(HEEL_DROP, 2.2)
    upper_edge = 15.0
    better_u = bands.largest_u_for_upper_edge_deg
    assert norm.cdf(18, upper_edge, better_u) == pytest.approx(0.95)
    assert norm.cdf(bands.smallest_limit_for_upper_edge_deg, upper_edge, 2.2) == pytest.approx(0.95)
    assert norm.sf(5, upper_edge, bands.largest_u_for_window_deg) == pytest.approx(0.80)
    both_u = bands.largest_u_for_both_deg
    depth = 5 + norm.ppf(0.80) * both_u
    assert norm.cdf(18, depth, both_u) == pytest.approx(0.95)


def test_stopping_at_neutral_with_the_published_probabilities():
    # limit 0 and 3 deg at u = 2.7: 0.5 and 0.866740
    floor = replace(HEEL_DROP, end_range_deg=(-5.0, 0.0), limit_deg=0.0)
    assert decidability(floor, 2.7).neutral_within_limit == pytest.approx(0.5)
    tolerant = decidability(replace(floor, limit_deg=3.0), 2.7)
    assert tolerant.neutral_within_limit == pytest.approx(0.866740, abs=5e-7)
    # 4.4415 deg away from the limit the probability is 0.95
    assert tolerant.smallest_limit_for_neutral_deg == pytest.approx(4.4411, abs=1e-3)
    assert norm.cdf(3 / tolerant.largest_u_for_neutral_deg) == pytest.approx(0.95)
    assert decidability(floor, 2.7).largest_u_for_neutral_deg == 0


def test_time_of_a_set_done_as_asked():
    bands = decidability(HEEL_DROP, 2.0)
    # to 5 deg, threshold 4 moved by 1.96 x 2 deg: past the end range, or 4.92 of 30 deg before it
    assert bands.at_lower_edge.time_s == pytest.approx(15 * (2 + 4 / 30))
    assert bands.at_lower_edge.low_s == 0
    assert bands.at_lower_edge.high_s == pytest.approx(15 * (2 + 4 * 4.919928 / 30), rel=1e-6)
    # to 10 deg the hold counts whatever the shift, so only the ramps move: 15 x 4 s / 35 deg for each degree
    middle = bands.at_middle
    assert middle.end_range_deg == 10
    assert middle.time_s == pytest.approx(15 * (2 + 4 * 6 / 35))
    assert middle.high_s - middle.low_s == pytest.approx(2 * 1.959964 * 2.0 * 15 * 4 / 35, rel=1e-6)


def test_what_is_not_prescribed_has_no_band():
    bare = replace(
        HEEL_DROP, end_range_deg=None, limit_deg=None, compression_threshold=None, tempo=Tempo(), start_deg=None
    )
    bands = decidability(bare, 2.2)
    assert bands.reached_band_deg is None
    assert bands.limit_band_deg is None
    assert bands.largest_u_for_both_deg is None
    assert bands.threshold_margin_deg is None
    assert bands.at_middle is None


def test_an_open_window_has_no_upper_edge_to_judge():
    bands = decidability(replace(HEEL_DROP, end_range_deg=(5.0, math.inf)), 2.2)
    assert bands.largest_u_for_window_deg is None
    assert bands.largest_u_for_upper_edge_deg is None
    assert bands.smallest_limit_for_upper_edge_deg is None
    assert bands.largest_u_for_both_deg is not None


def test_no_uncertainty_leaves_bands_of_no_width():
    bands = decidability(HEEL_DROP, 0.0)
    assert bands.reached_band_deg == pytest.approx((5, 5), abs=1e-6)
    assert bands.neutral_within_limit == 1
