"""How well two separate clocks are brought together.

``python tests/benchmarks/clocks.py [--sessions N] [--write]``: simulated sessions, measured by two clocks with known
offset (0 to 40 s) and skew (up to 300 ppm either way); the largest error over what both recorded, and how often the
stated 95 % interval holds it. A sample is the mean since the sample before, so a slower sensor's samples come from
earlier; that is part of the true offset.
"""

import argparse
import importlib.util
import sys
import time
from pathlib import Path

import numpy as np

from imu_rom.errors import CannotAnswerError
from imu_rom.recording.two_clocks import compare_clocks
from imu_rom.settings import ReadingSettings

HERE = Path(__file__).parent
RESULT = HERE / "results" / "clocks.md"
ROWS = (
    ("usual, no jolts asked for", {}, (100.0, 100.0), {}),
    ("knocks before and after", {"shared_jolts": "knocks"}, (100.0, 100.0), {}),
    ("knocks, cut off at 2 g", {"shared_jolts": "knocks"}, (100.0, 100.0), {"full_scale_m_s2": 19.6}),
    ("toe taps", {"shared_jolts": "toe taps"}, (100.0, 100.0), {}),
    ("100 and 52 Hz, knocks", {"shared_jolts": "knocks"}, (100.0, 52.0), {}),
    ("50 and 200 Hz, no jolts", {}, (50.0, 200.0), {}),
    ("no walking in the rests", {"walks_in_rests": False, "rest_s": 20.0}, (100.0, 100.0), {}),
    ("knee", {"joint": "knee", "start_deg": 8.0, "end_range_deg": 60.0}, (100.0, 100.0), {}),
    ("three quarters of an hour", {"sets": 9, "rest_s": 200.0, "repetitions": 15}, (100.0, 100.0), {}),
)


def two_sensors():
    """The tests' sessions with two clocks."""
    spec = importlib.util.spec_from_file_location("two_sensors", HERE.parent / "recording" / "two_sensors.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def compared(first, second):
    try:
        return compare_clocks(("shank", first), ("foot", second), ReadingSettings(), where="both")
    except CannotAnswerError:
        return None


def row(sessions, name, routine, rates_hz, options, count):
    """One row of the table."""
    worst_ms, held, widths_ms, seconds, refused = [], [], [], [], 0
    for seed in range(1, count + 1):
        rng = np.random.default_rng([seed, len(name)])
        session = sessions.Session.simulated(100 + seed, **routine)
        first, second, offset_s, skew = session.pair(rng.uniform(0, 40), rng.uniform(-300, 300), rates_hz, **options)
        began = time.process_time()
        fit = compared(first, second)
        seconds.append(time.process_time() - began)
        if fit is None:
            refused += 1
            continue
        at_s = np.linspace(max(0.0, offset_s), (len(first.missing) - 1) / first.rate_hz, 200)
        error_s = fit.offset_s + (1 + fit.skew) * (at_s - offset_s) / (1 + skew) - at_s
        uncertainty_s = fit.standard_uncertainty_s(at_s - fit.start_s)
        worst_ms.append(1e3 * np.abs(error_s).max())
        held.append(np.mean(np.abs(error_s) < 1.96 * uncertainty_s))
        widths_ms.append(1e3 * 1.96 * uncertainty_s.mean())
    cells = (
        name,
        f"{count - refused}/{count}",
        f"{np.median(worst_ms):.1f}",
        f"{np.max(worst_ms):.1f}",
        f"{100 * np.mean(held):.0f} %",
        f"{np.mean(widths_ms):.1f}",
        f"{np.median(seconds):.1f}",
    )
    return "| " + " | ".join(cells) + " |"


def strangers(sessions, count):
    """How often sensors of two different sessions are taken for a pair."""
    pairs = [sessions.Session.simulated(200 + seed).pair(5.0, 0.0)[:2] for seed in range(count)]
    tried = [(i, j) for i in range(count) for j in range(count) if i != j]
    taken = sum(compared(pairs[i][0], pairs[j][1]) is not None for i, j in tried)
    return f"Sensors of two different sessions, {len(tried)} pairs: {taken} taken for one session."


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--sessions", type=int, default=10)
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    sessions = two_sensors()
    lines = [
        "# Two clocks",
        "",
        f"`python tests/benchmarks/clocks.py --sessions {asked.sessions} --write`; errors over all that both recorded.",
        "",
        "| sessions | found | largest error, ms: median | largest | 95 % interval holds | half width, ms | CPU s |",
        "|---|---|---|---|---|---|---|",
    ]
    for name, routine, rates_hz, options in ROWS:
        lines.append(row(sessions, name, routine, rates_hz, options, asked.sessions))
        print(lines[-1], flush=True)
    lines += ["", strangers(sessions, max(3, asked.sessions // 2))]
    text = "\n".join(lines) + "\n"
    print(text)
    if asked.write:
        RESULT.write_text(text, "utf-8")


if __name__ == "__main__":
    main()
