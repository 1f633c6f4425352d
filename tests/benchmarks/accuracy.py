"""How accurate the analysis is where the truth is known, in one table a kind.

    python tests/benchmarks/accuracy.py [--only sessions|rigs] [--rows usual,partial,...] [--processes 2] [--details]
                                        [--write] [--seeds 200] [--share 1]

``sessions``: whole sessions of the package's own simulator, plan and all (``session_table.py``). ``rigs``: blind angles
of rigs made from rigid-body physics, beside a general-purpose toolbox (``rig_table.py``); takes an hour, a part of it
with ``--share 0.25`` or ``--rows``.

Exits with 1 where the usual row of sessions misses a target, or a rig misses what is to be reached. ``--details`` names
what falls short, on stderr; ``--write`` writes the tables to ``results/`` with the commit that they were made on.
"""

import os

# two processes share the cores; BLAS must not start threads of its own
for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(variable, "1")

import argparse  # noqa: E402 - the variables come before NumPy
import sys  # noqa: E402
from concurrent.futures import ProcessPoolExecutor  # noqa: E402
from pathlib import Path  # noqa: E402

from rig_rows import RIG_ROWS  # noqa: E402
from rig_table import rig_lines  # noqa: E402
from session_rows import ROWS  # noqa: E402
from session_table import session_lines  # noqa: E402
from speed import commit  # noqa: E402

FOLDER = Path(__file__).parent / "results"
RESULTS = {"sessions": FOLDER / "accuracy.md", "rigs": FOLDER / "rigs.md"}
NAMES = {"sessions": ROWS, "rigs": RIG_ROWS}
TITLES = {"sessions": "# Accuracy", "rigs": "# Accuracy on rigs, beside a toolbox"}


def asked(rows: str, kinds: list[str]) -> dict[str, list[str]]:
    """Return the rows of each kind; names are joined by semicolons where they hold commas themselves."""
    if not rows:
        return {kind: list(NAMES[kind]) for kind in kinds}
    names = [each.strip() for each in rows.split(";" if ";" in rows else ",")]
    if rows.strip() in {name for kind in kinds for name in NAMES[kind]}:
        names = [rows.strip()]
    known = {name for kind in kinds for name in NAMES[kind]}
    if unknown := [each for each in names if each not in known]:
        raise SystemExit(f"--rows must name some of {'; '.join(sorted(known))}, got {'; '.join(unknown)}")
    return {kind: [each for each in names if each in NAMES[kind]] for kind in kinds}


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", choices=list(NAMES), help="one kind; both without it")
    parser.add_argument("--seeds", type=int, default=200, help="simulated sessions of a row")
    parser.add_argument("--share", type=float, default=1.0, help="of each rig's usual number of recordings")
    parser.add_argument("--first-seed", type=int, default=1)
    parser.add_argument("--rows", default="", help="joined by commas, or by semicolons where names hold commas")
    parser.add_argument("--processes", type=int, default=min(2, os.cpu_count() or 1))
    parser.add_argument("--model-sessions", type=int, default=1000, help="sessions of the error model alone")
    parser.add_argument("--details", action="store_true", help="name what falls short, on stderr")
    parser.add_argument("--write", action="store_true", help="write the tables to results/")
    options = parser.parse_args()
    rows = asked(options.rows, [options.only] if options.only else list(NAMES))
    made_on = commit()
    kept = True
    with ProcessPoolExecutor(options.processes) as pool:
        for kind, names in rows.items():
            if not names:
                continue
            how = {"first_seed": options.first_seed, "details": options.details}
            if kind == "sessions":
                size = f"--only sessions --seeds {options.seeds}"
                lines, good = session_lines(
                    pool, names, seeds=options.seeds, model_sessions=options.model_sessions, **how
                )
            else:
                size = f"--only rigs --share {options.share:g}"
                lines, good = rig_lines(pool, names, share=options.share, **how)
            command = f"python tests/benchmarks/accuracy.py {size}"
            lines = [
                TITLES[kind], "", f"Commit {made_on}; `{command}`, seeds from {options.first_seed} on.", *lines
            ]  # fmt: skip
            print("\n".join(lines), flush=True)
            kept = kept and good
            if options.write:
                FOLDER.mkdir(exist_ok=True)
                RESULTS[kind].write_text("\n".join(lines))
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
