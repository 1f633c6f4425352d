"""Unit words, as files spell them, to SI.

A word means something only together with its quantity: ``G`` is gravity on an accelerometer and gauss on a
magnetometer. Nothing is guessed: an unknown word is an error that lists the known ones.

References
----------
Standard gravity 9.80665 m/s^2: BIPM, The International System of Units, 9th ed. (2019), section 2.3.4 and the 3rd CGPM
(1901). 1 G = 1e-4 T: the same, 8th ed., table 9.
"""

from math import pi
from typing import Literal

from imu_rom.errors import RecordingError

__all__ = ["STANDARD_GRAVITY_M_S2", "Quantity", "known_units", "si_factor"]

Quantity = Literal["acceleration", "angular rate", "magnetic field", "time", "angle"]

STANDARD_GRAVITY_M_S2 = 9.80665

_FACTORS: dict[Quantity, dict[str, float]] = {
    "acceleration": {
        "m/s^2": 1.0,
        "mm/s^2": 1e-3,
        "g": STANDARD_GRAVITY_M_S2,
        "mg": STANDARD_GRAVITY_M_S2 * 1e-3,
    },
    "angular rate": {"rad/s": 1.0, "mrad/s": 1e-3, "deg/s": pi / 180, "mdeg/s": pi / 180e3},
    "magnetic field": {"T": 1.0, "mT": 1e-3, "uT": 1e-6, "nT": 1e-9, "G": 1e-4, "mG": 1e-7},
    "time": {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "min": 60.0},
    "angle": {"rad": 1.0, "deg": pi / 180},
}

# other spellings of the words above, by quantity; keys are lower case without blanks
_SPELLINGS: dict[Quantity, dict[str, str]] = {
    "acceleration": {
        **dict.fromkeys(
            ("m/s2", "m/s/s", "m/s**2", "ms^-2", "ms-2", "m*s^-2", "m.s^-2", "m.s-2", "mps2", "m_s2", "m_s^2"), "m/s^2"
        ),
        **dict.fromkeys(("m/sec^2", "m/sec2", "meter/s^2", "metre/s^2"), "m/s^2"),
        **dict.fromkeys(("g0", "gn", "g_n", "gravity", "gee"), "g"),
    },
    "angular rate": {
        **dict.fromkeys(("rad/sec", "rads^-1", "rads-1", "rad*s^-1", "rad.s^-1", "rad.s-1", "rad_s"), "rad/s"),
        **dict.fromkeys(("radian/s", "radians/s", "radps", "rad/second"), "rad/s"),
        **dict.fromkeys(("dps", "deg/sec", "degs^-1", "degs-1", "deg*s^-1", "deg.s^-1", "deg.s-1", "deg_s"), "deg/s"),
        **dict.fromkeys(("°/s", "°/sec", "°s^-1", "degree/s", "degrees/s", "deg/second", "degps"), "deg/s"),
        "mdps": "mdeg/s",
    },
    "magnetic field": {
        **dict.fromkeys(("tesla",), "T"),
        **dict.fromkeys(("microtesla", "microt"), "uT"),
        **dict.fromkeys(("gauss", "gs"), "G"),
        "milligauss": "mG",
        "nanotesla": "nT",
    },
    "time": {
        **dict.fromkeys(("sec", "secs", "second", "seconds"), "s"),
        **dict.fromkeys(("msec", "millis", "millisecond", "milliseconds"), "ms"),
        **dict.fromkeys(("usec", "micros", "microsecond", "microseconds"), "us"),
        **dict.fromkeys(("nsec", "nanos", "nanosecond", "nanoseconds"), "ns"),
        **dict.fromkeys(("minute", "minutes"), "min"),
    },
    "angle": {**dict.fromkeys(("°", "degree", "degrees"), "deg"), **dict.fromkeys(("radian", "radians"), "rad")},
}

# signs that look alike: superscripts, the two letters mu, dots between factors
_SAME_SIGNS = str.maketrans({"²": "^2", "⁻": "^-", "¹": "1", "µ": "u", "μ": "u", "·": "*", "⋅": "*", "º": "°"})


def known_units(quantity: Quantity) -> tuple[str, ...]:
    """List the plain unit words of a quantity, without their other spellings.

    Parameters
    ----------
    quantity : {"acceleration", "angular rate", "magnetic field", "time", "angle"}
        What is measured.

    Returns
    -------
    tuple of str
        Unit words.
    """
    return tuple(_FACTORS[quantity])


def si_factor(word: str, quantity: Quantity, *, where: str = "") -> float:
    """How many SI units (m/s^2, rad/s, T, s, rad) one unit of the word is.

    Parameters
    ----------
    word : str
        Unit as a file or an option spells it (``"deg/s"``, ``"°/s"``, ``"m/s²"``).
    quantity : {"acceleration", "angular rate", "magnetic field", "time", "angle"}
        What is measured.
    where : str, optional
        File and line, for the error.

    Returns
    -------
    float
        Factor to multiply with.

    Raises
    ------
    RecordingError
        The word is no unit of this quantity that is known here.
    """
    factors = _FACTORS[quantity]
    plain = "".join(word.translate(_SAME_SIGNS).split()).replace("^-^", "^-")
    if plain in factors:
        return factors[plain]
    spelling = plain.casefold()
    if spelling in _SPELLINGS[quantity]:
        return factors[_SPELLINGS[quantity][spelling]]
    # capitals carry no meaning except where two words differ by them alone (none do within one quantity)
    for known, factor in factors.items():
        if known.casefold() == spelling:
            return factor
    raise RecordingError(
        f"{word!r} is no known unit of {quantity}; known are {', '.join(factors)}",
        where=where,
        do="correct the unit word",
    )
