"""Unit words mean the same however a file spells them, and nothing is guessed."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.errors import RecordingError
from imu_rom.units import STANDARD_GRAVITY_M_S2, known_units, si_factor

QUANTITIES = ["acceleration", "angular rate", "magnetic field", "time", "angle"]


def test_standard_gravity_is_that_of_the_third_cgpm():
    # BIPM, The International System of Units: declaration of the 3rd CGPM (1901)
    assert STANDARD_GRAVITY_M_S2 == 9.80665


@pytest.mark.parametrize(
    ("word", "quantity", "factor"),
    [
        ("m/s^2", "acceleration", 1),
        ("m/s²", "acceleration", 1),
        ("m s⁻²", "acceleration", 1),
        ("m/s2", "acceleration", 1),
        ("g", "acceleration", 9.80665),
        ("G", "acceleration", 9.80665),
        ("mg", "acceleration", 9.80665e-3),
        ("rad/s", "angular rate", 1),
        ("deg/s", "angular rate", math.pi / 180),
        ("°/s", "angular rate", math.pi / 180),
        ("dps", "angular rate", math.pi / 180),
        ("mdps", "angular rate", math.pi / 180e3),
        ("µT", "magnetic field", 1e-6),
        ("μT", "magnetic field", 1e-6),
        ("uT", "magnetic field", 1e-6),
        ("G", "magnetic field", 1e-4),
        ("s", "time", 1),
        ("ms", "time", 1e-3),
        ("µs", "time", 1e-6),
        ("us", "time", 1e-6),
        ("deg", "angle", math.pi / 180),
        ("rad", "angle", 1),
    ],
)
def test_words_of_files(word, quantity, factor):
    assert si_factor(word, quantity) == pytest.approx(factor, rel=1e-15)


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_an_unknown_word_is_refused_with_the_known_ones(quantity):
    with pytest.raises(RecordingError) as caught:
        si_factor("furlong", quantity, where="channels.tsv:4")
    sentence = str(caught.value)
    assert sentence.startswith("channels.tsv:4: 'furlong'")
    assert all(unit in sentence for unit in known_units(quantity))


@pytest.mark.parametrize(
    ("word", "quantity"), [("g", "angular rate"), ("rad/s", "acceleration"), ("s", "angle"), ("", "time")]
)
def test_a_unit_of_another_quantity_is_refused(word, quantity):
    with pytest.raises(RecordingError):
        si_factor(word, quantity)


@given(st.sampled_from([(unit, quantity) for quantity in QUANTITIES for unit in known_units(quantity)]), st.data())
def test_blanks_and_capitals_do_not_change_a_unit(known, data):
    unit, quantity = known
    spaced = "".join(letter + " " * data.draw(st.integers(0, 2)) for letter in unit)
    assert si_factor(spaced, quantity) == si_factor(unit, quantity)
    same_in_capitals = {each.upper() for each in known_units(quantity)}
    if len(same_in_capitals) == len(known_units(quantity)):
        assert si_factor(unit.upper(), quantity) == si_factor(unit, quantity)
