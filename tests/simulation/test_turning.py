"""Our products, attitudes and turning vectors are those of SciPy."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.spatial.transform import Rotation

from imu_rom.simulation.turning import product, turning_vectors, yaw_pitch_roll

ANGLES_DEG = arrays(float, (7, 3), elements=st.floats(-720, 720))


def turns(seed, count):
    return Rotation.random(count, random_state=seed)


@given(st.integers(0, 10_000))
def test_the_product_is_that_of_scipy_to_the_last_bit(seed):
    first, second = turns(seed, 9), turns(seed + 1, 9)
    np.testing.assert_array_equal(product(first, second).as_quat(), (first * second).as_quat())


@given(st.integers(0, 10_000))
def test_one_rotation_is_multiplied_with_many_from_either_side(seed):
    many, one = turns(seed, 5), turns(seed + 1, 1)[0]
    expected = (one * many * one).as_matrix()
    np.testing.assert_allclose(product(one, many, one).as_matrix(), expected, atol=1e-14)


@given(ANGLES_DEG)
def test_yaw_pitch_and_roll_are_those_of_scipy(angles_deg):
    expected = Rotation.from_euler("ZYX", angles_deg, degrees=True)
    np.testing.assert_allclose(yaw_pitch_roll(angles_deg).as_matrix(), expected.as_matrix(), atol=1e-14)


@given(arrays(float, (7, 3), elements=st.floats(-4, 4)), st.sampled_from([1.0, 1e-3, 1e-9, 0.0]))
def test_turning_vectors_are_those_of_scipy(vectors, size):
    rotation = Rotation.from_rotvec(vectors * size)
    np.testing.assert_allclose(turning_vectors(rotation), rotation.as_rotvec(), atol=1e-13, rtol=1e-13)
