"""The error model alone has the parts and sizes that it says."""

import numpy as np
import pytest

from imu_rom.simulation import AngleErrors, Routine, angle_error_model


def test_the_parts_add_up():
    model = angle_error_model(1, errors=AngleErrors(wobble_deg=0))
    assert np.allclose(model.angle_deg, model.true_angle_deg + model.zero_error_deg + model.slow_error_deg, atol=1e-12)
    assert [len(each.repetitions) for each in model.sets] == [15, 15, 15]


def test_the_parts_have_their_sizes():
    models = [angle_error_model(seed, Routine(sets=1)) for seed in range(150)]
    assert np.std([each.zero_error_deg for each in models]) == pytest.approx(2, rel=0.15)
    assert np.sqrt(np.mean([np.mean(each.slow_error_deg**2) for each in models])) == pytest.approx(0.5, rel=0.1)
    fast = [each.angle_deg - each.true_angle_deg - each.zero_error_deg - each.slow_error_deg for each in models]
    assert np.sqrt(np.mean([np.mean(each**2) for each in fast])) == pytest.approx(0.65, rel=0.05)
    # nothing fast is left in the slow part
    assert max(np.abs(np.diff(each.slow_error_deg)).max() * each.rate_hz for each in models) < 0.05


def test_same_seed_same_model():
    assert angle_error_model(7).angle_deg.tobytes() == angle_error_model(7).angle_deg.tobytes()
    assert angle_error_model(7).zero_error_deg != angle_error_model(8).zero_error_deg


def test_repetitions_are_measured_on_the_true_angle():
    model = angle_error_model(3)
    for one in model.sets:
        for each in one.repetitions:
            inside = model.true_angle_deg[round(each.start_s * 50) : round(each.stop_s * 50) + 1]
            assert each.end_range_deg == inside.max()
