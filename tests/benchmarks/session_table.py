"""The table of accuracy on simulated sessions with known truth.

Each session: sensors switched on at a table, taped on in any direction, neutral pose, calibration movement, walking to
the step, sets with walking and turning in the rests, walking back. Gyroscope bias 0.4 deg/s, drifting; accelerometer
bias 0.1 m/s^2; soft-tissue wobble 0.8 deg RMS; oblique axis; neutral pose off the true zero by N(0, 2 deg) a session.
The analysis is told the recording and the plan, nothing else.

What is counted and how stands in ``session_figures.py``.
"""

import math
import sys
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass

from session_figures import END_RANGE_WITHIN_DEG, SessionFigures, measure, model_covered
from session_rows import ROWS, Row
from session_summary import Summary, summary

__all__ = ["session_lines"]

MODEL_ROW = "error model alone"


def share(value: float) -> str:
    """Per cent with one digit."""
    return "-" if math.isnan(value) else f"{100 * value:.1f} %"


def number(value: float, unit: str = "deg") -> str:
    """Two digits."""
    return "-" if math.isnan(value) else f"{value:.2f} {unit}"


def signed(value: float, unit: str = "deg") -> str:
    """Two digits and a sign."""
    return "-" if math.isnan(value) else f"{value:+.2f} {unit}"


@dataclass(frozen=True)
class Column:
    """One figure of the table.

    Parameters
    ----------
    heading, target : str
        As printed; the target may be empty.
    show : callable
        Summary to text.
    meets : callable or None
        Summary to whether the target is met.
    """

    heading: str
    target: str
    show: Callable[[Summary], str]
    meets: Callable[[Summary], bool] | None = None


def refused(found: Summary) -> str:
    """How many were refused, and by what."""
    kinds = "; ".join(f"{count} x {kind}" for kind, count in found.refusals.items())
    return f"{sum(found.refusals.values())}" + (f" ({kinds})" if kinds else "")


COLUMNS = [
    Column("sessions", "", lambda found: str(found.sessions)),
    Column("refused", "", refused),
    Column(
        "sets with the exact count", "at least 98 %", lambda found: share(found.sets_exact),
        lambda found: found.sets_exact >= 0.98,
    ),
    Column("session totals exact", "", lambda found: share(found.totals_exact)),
    Column("partial found / done", "", lambda found: f"{found.partial_found} / {found.partial_done}"),
    Column("sets invented", "", lambda found: str(found.invented_sets)),
    Column(
        "angle RMSE in sets, median", "at most 0.75 deg", lambda found: number(found.rmse_median_deg),
        lambda found: found.rmse_median_deg <= 0.75,
    ),
    Column(
        "angle RMSE in sets, 95th percentile", "at most 0.90 deg", lambda found: number(found.rmse_high_deg),
        lambda found: found.rmse_high_deg <= 0.90,
    ),
    Column(
        "end range within 1.3 deg", "at least 95 %", lambda found: share(found.end_range_within),
        lambda found: found.end_range_within >= 0.95,
    ),
    Column(
        "held angle, bias on holds", "within 0.5 deg", lambda found: signed(found.held_bias_deg),
        lambda found: not abs(found.held_bias_deg) > 0.5,
    ),
    Column(
        "end range, bias on holds", "within 0.5 deg", lambda found: signed(found.end_range_bias_deg),
        lambda found: not abs(found.end_range_bias_deg) > 0.5,
    ),
    Column(
        "sets with time past the threshold within 5 % or 1 s", "at least 95 %", lambda found: share(found.time_within),
        lambda found: found.time_within >= 0.95,
    ),
    Column("95 % intervals that hold the true time, zero shift in", "", lambda found: share(found.covered)),
    Column("hold time, bias", "", lambda found: signed(found.hold_bias_s, "s")),
    Column("eccentric time, bias", "", lambda found: signed(found.eccentric_bias_s, "s")),
    Column("concentric time, bias", "", lambda found: signed(found.concentric_bias_s, "s")),
    Column("yes or no against the truth", "", lambda found: share(found.wrong_answers)),
    Column(
        "zero wrong by over 3 deg, unsaid", "none", lambda found: share(found.wrong_zeros),
        lambda found: not found.wrong_zeros > 0,
    ),
    Column(
        "sign wrong, unsaid", "none", lambda found: share(found.wrong_signs), lambda found: not found.wrong_signs > 0
    ),
]  # fmt: skip
COVERAGE = next(place for place, each in enumerate(COLUMNS) if each.heading.startswith("95 %"))


def cell(column: Column, found: Summary) -> str:
    """One figure, with a word where its target is missed."""
    missed = column.meets is not None and not column.meets(found)
    return column.show(found) + (" (target missed)" if missed else "")


def failures(of: SessionFigures) -> list[str]:
    """Say what one session fails by."""
    if of.refusal:
        return [f"refused: {of.refusal}"]
    off = sum(abs(error) > END_RANGE_WITHIN_DEG for error in of.end_range_errors_deg)
    judged = [
        (
            not (all(of.sets_exact) and of.total_exact) or of.invented_sets > 0,
            (
                f"counts: sets exact {[int(exact) for exact in of.sets_exact]}, total exact {of.total_exact}, "
                f"invented {of.invented_sets}, partial {of.partial_found}/{of.partial_done}"
            ),
        ),
        (of.rmse_deg > 0.9, f"rmse {of.rmse_deg:.2f} deg"),
        (off > 0.05 * len(of.end_range_errors_deg), f"end range: {off} of {len(of.end_range_errors_deg)} off"),
        (
            any(abs(error) > 1 for error in of.time_errors),
            f"time: {', '.join(f'{error:+.1f}' for error in of.time_errors)} of what is allowed",
        ),
        (not of.covered, "interval misses the true time"),
        (of.wrong_answers > 0, f"{of.wrong_answers} of {of.answers} answers wrong"),
        (of.zero_is_wrong, f"zero off by {of.zero_off_deg:.1f} deg"),
        (of.sign_is_wrong, "sign wrong"),
    ]
    return [sentence for fails, sentence in judged if fails]


def told(name: str, figures: list[SessionFigures]) -> None:
    """Name the sessions of a row that fail, on stderr."""
    for each in figures:
        if found := failures(each):
            print(f"{name}, seed {each.seed}: {'; '.join(found)}", file=sys.stderr, flush=True)


def table(summaries: dict[str, Summary], coverage: float | None, sessions: int) -> list[str]:
    """Return the table as Markdown."""
    lines = [
        "| sessions | " + " | ".join(each.heading for each in COLUMNS[1:]) + " |",
        "|" + "---|" * len(COLUMNS),
        "| *target* | " + " | ".join(each.target for each in COLUMNS[1:]) + " |",
    ]
    lines += [
        f"| {name} ({found.sessions}) | " + " | ".join(cell(each, found) for each in COLUMNS[1:]) + " |"
        for name, found in summaries.items()
    ]
    if coverage is not None:
        missed = "" if 0.93 <= coverage <= 0.98 else ", target missed"
        cells = [""] * len(COLUMNS)
        cells[0] = f"{MODEL_ROW} ({sessions})"
        cells[COVERAGE] = f"{share(coverage)} (93 to 98 % asked{missed})"
        lines.append("| " + " | ".join(cells) + " |")
    return lines


def _measured(job: tuple[Row, int]) -> SessionFigures:
    """Measure one session, in a process of its own pool."""
    return measure(*job)


def session_lines(
    pool: Executor, names: list[str], *, seeds: int, first_seed: int, model_sessions: int, details: bool
) -> tuple[list[str], bool]:
    """Measure all rows; return the lines to print below the heading, and whether the usual row keeps its targets.

    Parameters
    ----------
    pool : concurrent.futures.Executor
        Processes to measure in.
    names : list of str
        Rows.
    seeds, first_seed : int
        Sessions of a row of full size, and the first one's seed.
    model_sessions : int
        Sessions of the error model alone.
    details : bool
        Name the sessions that fail, on stderr.

    Returns
    -------
    tuple of list of str and bool
        Markdown, and True where no target of the usual row is missed.
    """
    summaries: dict[str, Summary] = {}
    coverage = None
    for name in names:
        row = ROWS[name]
        count = max(1, round(seeds * row.share))
        jobs = [(row, first_seed + index) for index in range(count)]
        figures = list(pool.map(_measured, jobs, chunksize=2))
        summaries[name] = summary(figures)
        print(f"{name}: {count} sessions", file=sys.stderr, flush=True)
        if details:
            told(name, figures)
    if model_sessions:
        covered = list(pool.map(model_covered, range(model_sessions), chunksize=10))
        coverage = sum(covered) / len(covered)
    meanings = {name: ROWS[name].meaning for name in names}
    if coverage is not None:
        meanings[MODEL_ROW] = "true angles with errors drawn from the budget, no sensors"
    lines = [
        "Simulated sessions, at 50 Hz where nothing else is said.",
        "",
        "Judged with the session's zero shift removed, but for the intervals. Shares are of the sessions answered.",
        "The targets are those of the usual row; the harder rows are reported as they are.",
        "",
        *(f"- {name}: {meaning}" for name, meaning in meanings.items()),
        "",
        *table(summaries, coverage, model_sessions),
        "",
    ]
    usual = summaries.get("usual")
    missed = usual is not None and any(each.meets is not None and not each.meets(usual) for each in COLUMNS)
    return lines, not missed and (coverage is None or 0.93 <= coverage <= 0.98)
