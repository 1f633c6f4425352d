"""How often the patterns of a course are seen, in courses drawn from the error model alone.

``python tests/benchmarks/course_patterns.py [--seeds N] [--write]``: courses of four weeks in which all is just as
asked (`tests/dose/made_courses.py`: repetitions that end on the window's edge or at the limit, times as short as the
tolerance allows), the same with a habit in taking up the neutral pose, courses that are plainly not as asked, and pain
that goes its own way or with exposure. ``--write`` writes the table to ``results/course_patterns.md`` with the commit
that it was made on. Two thousand seeds take some five minutes.
"""

import argparse
import sys
from collections import Counter
from pathlib import Path

from scipy.stats import binomtest

HERE = Path(__file__).parent
RESULT = HERE / "results" / "course_patterns.md"
sys.path.append(str(HERE.parent / "dose"))

import made_courses as made  # noqa: E402  lies beside the tests
from speed import commit  # noqa: E402

WHAT = """\
Just as asked: `heeldrop` ends where just four of five repetitions reach the window, `stopped` with all of them on its
edge, `limited` with all of them at the limit and in the least time that the tolerance allows. With a habit, half of the
variance of the zero is the same in all sessions. Plainly otherwise: `heeldrop left` ends 5 deg short and takes 0.6 of
the time, `heeldrop right` loses 4 deg over a set, `stopped` loses 3 deg a week, `limited` goes 3 deg past the limit.

At most 5 % may be seen in courses just as asked. What has no row was never seen.
"""
HEAD = "| course | pattern | exercise | seen, % | 95 % interval | not seen, % | undecided, % |"
PAIN = (
    ("pain of its own, 56 days", {}),
    ("the same, 28 days", {"days": 28}),
    ("the same, 84 days", {"days": 84}),
    ("both remember long (0.9)", {"memory": 0.9, "exposure_memory": 0.9}),
    ("the same, 84 days", {"days": 84, "memory": 0.9, "exposure_memory": 0.9}),
    ("pain goes with exposure, 56 days", {"coupling": 1.2}),
    ("the same, 28 days", {"days": 28, "coupling": 1.2}),
    ("the same, 8 days", {"days": 8, "coupling": 1.2}),
)


def row(course, pattern, exercise, counts):
    """One row of the table."""
    total = counts.total()
    between = binomtest(counts["seen"], total).proportion_ci(method="wilson")
    shares = [f"{100 * counts[each] / total:.1f}" for each in ("seen", "not seen", "undecided")]
    interval = f"{100 * between.low:.1f} to {100 * between.high:.1f}"
    return f"| {course} | {pattern} | {exercise} | {shares[0]} | {interval} | {shares[1]} | {shares[2]} |"


def rows(course, seeds, made_course):
    """Rows of all patterns that are seen in one kind of course."""
    found = {}
    for seed in range(seeds):
        for (name, exercise, side), pattern in made_course(seed).items():
            found.setdefault((name, f"{exercise or ''} {side or ''}".strip()), Counter())[pattern.answer] += 1
    return [row(course, *key, counts) for key, counts in found.items() if counts["seen"]]


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", type=int, default=200)
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    lines = [
        "# Patterns of made-up courses",
        "",
        f"Commit {commit()}; `python tests/benchmarks/course_patterns.py --seeds {asked.seeds} --write`.",
        "",
        WHAT,
        HEAD,
        "|---" * HEAD.count(" |") + "|",
    ]
    for name, seeds, made_course in (
        ("just as asked", asked.seeds, lambda seed: made.course(seed, made.NOTHING)),
        ("the same with a habit", asked.seeds, lambda seed: made.course(seed, made.NOTHING, habit=0.5)),
        ("plainly otherwise", max(asked.seeds // 5, 1), lambda seed: made.course(seed, made.PLAIN)),
    ):
        lines += rows(name, seeds, made_course)
    for name, going in PAIN:
        counts = Counter(made.painful_course(seed, **going).answer for seed in range(asked.seeds))
        lines.append(row(name, "morning pain rises with exposure", "left", counts))
    text = "\n".join(lines) + "\n"
    print(text)
    if asked.write:
        RESULT.write_text(text, "utf-8")


if __name__ == "__main__":
    main()
