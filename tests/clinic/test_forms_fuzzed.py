"""Forms filled in with whatever may come; ``python tests/fuzz/forms.py`` does it for as long as you like."""

import random
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))
from fuzzed_forms import ODD, FuzzedClinic, filled

# as all rows made by hand
MONDAY_MORNING_MS = 1_796_025_600_000
FORMS = 25


@pytest.fixture(scope="module")
def clinic(tmp_path_factory):
    made = FuzzedClinic(tmp_path_factory.mktemp("forms"), SimpleNamespace(now_ms=lambda: MONDAY_MORNING_MS))
    yield made
    made.close()


def test_the_forms_that_are_fuzzed_are_those_of_the_pages(clinic):
    actions = {(role, action) for role, _, action, _ in clinic.forms}
    assert {("patient", "/send"), ("nobody", "/sign-in"), ("clinician", "/patients/new")} <= actions
    assert len(clinic.forms) > 60


def test_no_form_breaks_its_page_with_odd_values_in_every_field(clinic):
    chance = random.Random(11)  # noqa: S311  no secret
    for number, form in enumerate(clinic.forms):
        if number % 8 == 0:
            clinic.begin()
        how = "multipart" if {name for name, _ in form[3]} & {"files", "file"} else "urlencoded"
        clinic.fill_in(form, [(name, chance.choice(ODD)) for name, _ in form[3]], how)
    clinic.holds()


@settings(max_examples=FORMS, suppress_health_check=list(HealthCheck), derandomize=True, database=None)
@given(data=st.data())
def test_no_form_breaks_its_page_whatever_is_filled_in(clinic, data):
    clinic.begin()
    clinic.fill_in(*data.draw(filled(clinic.forms)))
    clinic.holds()
