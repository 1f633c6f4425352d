"""Which way both axes face: the pair that belongs to the body against its twin with one axis turned round."""

from dataclasses import replace

import numpy as np
import pytest

from imu_rom.motion.facing import facing_evidence
from imu_rom.motion.tracking import track_hinge
from imu_rom.settings import AngleSettings
from imu_rom.simulation import Routine, simulate_session

KNEE = {
    "joint": "knee", "proximal": "thigh", "distal": "shank", "start_deg": 8.0, "end_range_deg": 60.0,
    "calibration_sign": 1, "calibration_deg": (35.0, 55.0),
}  # fmt: skip


@pytest.fixture(
    scope="module", params=[(1, {}), (2, {}), (3, KNEE), (4, KNEE)], ids=["heel 1", "heel 2", "knee 3", "knee 4"]
)
def session(request):
    seed, changes = request.param
    routine = Routine(sets=1, repetitions=5, sits_before=False, **changes)
    made = simulate_session(seed, routine, rate_hz=50.0)
    sensors = [made.recording.sensors[each] for each in (routine.proximal, routine.distal)]
    track = track_hinge(
        *((each.accelerometer_m_s2, each.gyroscope_rad_s) for each in sensors),
        np.zeros(made.recording.sample_count, dtype=bool), 50.0, AngleSettings(),
    )  # fmt: skip
    return made.truth, track


def test_both_axes_face_as_the_body_has_them(session):
    truth, track = session
    signs = [
        np.sign(axis @ truth.body.mountings[which].inv().apply(truth.body.axis))
        for which, axis in (("proximal", track.axis.proximal), ("distal", track.axis.distal))
    ]
    assert signs[0] == signs[1]
    assert track.facing_is_clear


def test_evidence_speaks_for_the_true_pair_and_against_its_twin(session):
    _, track = session
    worn = (track.motion.time_s >= track.worn_start_s) & (track.motion.time_s <= track.worn_stop_s)
    # the same fit both ways, so that only what is pushed and how it swings is weighed
    twin = replace(track.axis, distal=-track.axis.distal)
    # turned round, the axis makes the headings differ by half a turn
    turned = replace(track.heading, angle_rad=track.heading.angle_rad + np.pi)
    assert facing_evidence(track.motion, (track.axis, track.heading), (twin, turned), worn) > 0
    assert facing_evidence(track.motion, (twin, turned), (track.axis, track.heading), worn) < 0


def test_nothing_speaks_where_nothing_is_worn(session):
    _, track = session
    nowhere = np.zeros(len(track.motion.missing), dtype=bool)
    assert facing_evidence(track.motion, (track.axis, track.heading), (track.axis, track.heading), nowhere) == 0.0
