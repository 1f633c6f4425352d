"""Fill in every form of a clinic's service with whatever may come, for five minutes or as long as asked for.

Run it by ``python tests/fuzz/forms.py``; ``--seconds`` says how long. What breaks a page is printed as small as it can
be made, and the program ends with 1.
"""

import argparse
import sys
import tempfile
import time
from pathlib import Path
from types import SimpleNamespace

from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parents[1] / "clinic"))
from fuzzed_forms import FuzzedClinic, filled

MONDAY_MORNING_MS = 1_796_025_600_000
EXAMPLES = 20


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=300.0)
    parser.add_argument("--seed", type=int, default=time.time_ns())
    asked = parser.parse_args()
    sent, until = 0, time.monotonic() + asked.seconds
    with tempfile.TemporaryDirectory() as folder:
        clinic = FuzzedClinic(Path(folder), SimpleNamespace(now_ms=lambda: MONDAY_MORNING_MS))
        number = asked.seed
        while time.monotonic() < until:

            @seed(number)
            @settings(max_examples=EXAMPLES, suppress_health_check=list(HealthCheck), database=None, deadline=None)
            @given(data=st.data())
            def some(data):
                nonlocal sent
                clinic.begin()
                for form, fields, how in data.draw(st.lists(filled(clinic.forms), min_size=4, max_size=8)):
                    clinic.fill_in(form, fields, how)
                    sent += 1
                clinic.holds()

            some()
            number += 1
        clinic.close()
    print(f"{sent} forms of {len(clinic.forms)} kinds filled in, and no page broke (seed {asked.seed}).")


if __name__ == "__main__":
    main()
