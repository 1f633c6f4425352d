"""Noise within a band of frequencies, for wobble, sway and hands."""

import numpy as np
from numpy.typing import NDArray

__all__ = ["band_noise"]

Floats = NDArray[np.float64]


def band_noise(
    count: int, rate_hz: float, band_hz: tuple[float, float], slope: float, rng: np.random.Generator
) -> Floats:
    """Noise of unit RMS within a band.

    Parameters
    ----------
    count : int
        Samples.
    rate_hz : float
        Their rate.
    band_hz : tuple of float
        Lowest and highest frequency.
    slope : float
        Power falls with frequency to this power.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    ndarray of shape (count,)
        The noise.
    """
    from scipy import fft  # noqa: PLC0415 - only simulations need it

    length = fft.next_fast_len(count + round(rate_hz / band_hz[0]), real=True)
    frequency = fft.rfftfreq(length, 1 / rate_hz)
    first, last = np.searchsorted(frequency, band_hz)
    spectrum = np.zeros(len(frequency), dtype=complex)
    parts = rng.standard_normal((2, last - first))
    spectrum[first:last] = (parts[0] + 1j * parts[1]) * frequency[first:last] ** (-slope / 2)
    # RMS by Parseval, so that a stretch is not scaled by what it happens to hold
    size = np.sqrt(2 * np.sum(2 * frequency[first:last] ** -slope)) / length
    values: Floats = fft.irfft(spectrum, length)[:count] / size
    return values
