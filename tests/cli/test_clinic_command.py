"""The owner's commands: from nothing to links that open, one sentence for what can't be, and nothing half done."""

import re
import shutil
import tomllib
from pathlib import Path

import pytest
from sqlalchemy import select

from imu_rom.clinic.accounts import find_clinician
from imu_rom.clinic.audit import verify
from imu_rom.clinic.clinics import list_clinics
from imu_rom.clinic.database import open_database
from imu_rom.clinic.invitations import accept_invitation, open_invitation
from imu_rom.clinic.patients import list_patients
from imu_rom.clinic.schema import audit_entries
from imu_rom_cli import clinic_service, main

PHONE = "+49 30 1234567"
NEW = ["init", "--name", "Example Clinic", "--phone", PHONE, "--time-zone", "Europe/Berlin"]


@pytest.fixture
def clinic(tmp_path, monkeypatch, capsys):
    """Run a command of the clinic in a home of its own: its code, output and errors."""
    monkeypatch.setenv("IMU_ROM_HOME", str(tmp_path / "home"))

    def run(*words):
        code = main(["clinic", *words])
        said = capsys.readouterr()
        return code, said.out, said.err

    run.home = tmp_path / "home"
    return run


def database(clinic):
    return open_database(f"sqlite:///{clinic.home / 'clinic.sqlite'}")


def token_in(text):
    return re.search(r"^http://127\.0\.0\.1:8000/invitation/([\w-]{43})$", text, re.MULTILINE)[1]


def opened(clinic, token):
    kept = database(clinic)
    with kept.reading() as connection:
        found = open_invitation(connection, 0, token)
    kept.close()
    return found


def test_from_nothing_to_a_link_that_opens(clinic):
    code, said, told = clinic(*NEW)
    assert (code, told) == (0, f"All that is kept on this machine is in {clinic.home}.\n")
    assert said == (
        f"Example Clinic, in the time zone Europe/Berlin. Everything is kept.\nPatients are told to call {PHONE}.\n"
    )
    code, said, told = clinic("add-clinician", "Anna@Example.org")
    assert (code, told) == (0, "")
    assert said.startswith("anna@example.org can join by this link, once, within 168 hours:\n")
    assert opened(clinic, token_in(said)).sign_in_name == "anna@example.org"


def test_a_second_init_changes_only_what_is_said(clinic):
    clinic("init", "--name", "Example Clinic", "--time-zone", "Europe/Berlin")
    code, said, _ = clinic("init", "--name", "Example  Clinic", "--phone", PHONE, "--retention-days", "3650")
    assert code == 0
    assert said == (
        "Example Clinic, in the time zone Europe/Berlin. Data are kept for 3650 days at least.\n"
        f"Patients are told to call {PHONE}.\n"
    )
    kept = database(clinic)
    with kept.reading() as connection:
        assert len(list_clinics(connection)) == 1
        assert list(connection.scalars(select(audit_entries.c.action))) == ["add clinic", "change clinic"]
        assert verify(connection).broken is None
    kept.close()
    # what is as it should be is not changed again
    clinic("init", "--name", "Example Clinic")
    with kept.reading() as connection:
        assert len(list(connection.scalars(select(audit_entries.c.action)))) == 2
    kept.close()


def test_without_a_phone_number_nobody_is_added_or_invited(clinic):
    clinic("init", "--name", "Example Clinic")
    for words in (["add-clinician", "anna@example.org"], ["invite", "Bed 4", "--patient"]):
        code, said, told = clinic(*words)
        assert (code, said) == (2, "")
        assert "nobody is invited while the clinic's phone number is missing; give it by" in told
    kept = database(clinic)
    with kept.reading() as connection:
        assert list(connection.scalars(select(audit_entries.c.action))) == ["add clinic"]
    kept.close()


def test_a_new_link_closes_the_one_before_and_resets_once_joined(clinic):
    clinic(*NEW)
    first = token_in(clinic("add-clinician", "anna@example.org")[1])
    second = token_in(clinic("invite", "anna@example.org")[1])
    assert opened(clinic, first) is None
    kept = database(clinic)
    with kept.writing() as connection:
        accept_invitation(connection, 0, second, "hash")
    kept.close()
    code, said, _ = clinic("invite", "anna@example.org", "--without-second-factor")
    assert code == 0
    assert said.startswith("anna@example.org can set a new passphrase by this link, once, within 24 hours:\n")


def test_a_patient_is_added_once_and_invited_under_a_name_that_tells_nothing(clinic):
    clinic(*NEW)
    said = [clinic("invite", "Bed 4", "--patient", "--language", "de")[1] for _ in range(2)]
    names = {text.split()[0] for text in said}
    assert len(names) == 1
    assert "Bed" not in names.pop()
    kept = database(clinic)
    with kept.reading() as connection:
        (only,) = list_patients(connection, list_clinics(connection)[0].clinic_id)
        assert (only.label, only.language) == ("Bed 4", "de")
    kept.close()


def test_the_list_names_clinicians_and_counts_patients(clinic):
    assert clinic("list")[1] == "There is no clinic yet; imu-rom clinic init makes one.\n"
    clinic(*NEW)
    clinic("add-clinician", "anna@example.org")
    clinic("invite", "A private name", "--patient")
    clinic("close-account", "anna@example.org")
    code, said, _ = clinic("list")
    assert code == 0
    assert "\n1 patient.\n" in said
    assert "private" not in said
    assert re.search(r"^anna@example\.org +not yet +no +closed$", said, re.MULTILINE)


def test_an_account_is_closed_and_opened_again(clinic):
    clinic(*NEW)
    clinic("add-clinician", "anna@example.org")
    assert clinic("close-account", "anna@example.org")[1] == "anna@example.org is signed out and can't sign in.\n"
    assert "reopen the account first" in clinic("invite", "anna@example.org")[2]
    assert clinic("close-account", "anna@example.org", "--reopen")[1] == "anna@example.org can sign in again.\n"
    assert clinic("invite", "anna@example.org")[0] == 0
    kept = database(clinic)
    with kept.reading() as connection:
        assert find_clinician(connection, "anna@example.org").active
    kept.close()


def test_with_several_clinics_one_is_named(clinic):
    clinic(*NEW)
    clinic("init", "--name", "Other Clinic", "--phone", "112", "--time-zone", "UTC")
    code, _, told = clinic("add-clinician", "anna@example.org")
    assert code == 2
    assert told == "imu-rom: there are several clinics: Example Clinic, Other Clinic; name one by --clinic.\n"
    assert clinic("add-clinician", "anna@example.org", "--clinic", "Other Clinic")[0] == 0
    assert "there is no clinic 'Third'" in clinic("invite", "x", "--patient", "--clinic", "Third")[2]


def noted_in(said):
    return re.search(r"\(--noted\): (\d+:[0-9a-f]{64})$", said, re.MULTILINE)[1]


def test_a_backup_is_restored_elsewhere_and_passes_the_check(clinic, tmp_path):
    clinic(*NEW)
    clinic("add-clinician", "anna@example.org")
    code, said, _ = clinic("backup", str(tmp_path / "backup"))
    assert code == 0
    assert said.startswith(f"{tmp_path / 'backup'} holds 6 rows and 0 stored files (0.0 MB).\nThe secret is not in it")
    assert clinic("backup", str(tmp_path / "backup"))[0] == 2
    elsewhere = ["--home", str(tmp_path / "elsewhere")]
    code, said, _ = clinic("restore", str(tmp_path / "backup"), *elsewhere)
    assert code == 0
    assert said.startswith("Restored 6 rows and 0 stored files (0.0 MB).\nThe secret is another than it was")
    code, said, _ = clinic("check", *elsewhere)
    assert code == 0
    assert said.startswith("All is whole: the trail, the rows and 0 stored files (0.0 MB).\n")
    assert "anna@example.org" in clinic("list", *elsewhere)[1]
    # what is there is never overwritten
    assert "something is kept here already" in clinic("restore", str(tmp_path / "backup"))[2]


def test_with_the_same_secret_nothing_is_said_of_it(clinic, tmp_path):
    clinic(*NEW)
    clinic("backup", str(tmp_path / "backup"))
    (tmp_path / "elsewhere").mkdir()
    shutil.copy(clinic.home / "secret.key", tmp_path / "elsewhere")
    said = clinic("restore", str(tmp_path / "backup"), "--home", str(tmp_path / "elsewhere"))[1]
    assert said == "Restored 2 rows and 0 stored files (0.0 MB).\nCheck it by imu-rom clinic check.\n"


def test_a_check_sees_a_trail_that_was_changed_or_cut_off(clinic):
    clinic(*NEW)
    clinic("add-clinician", "anna@example.org")
    noted = noted_in(clinic("check")[1])
    assert noted.startswith("3:")
    assert clinic("check", "--noted", noted)[0] == 0
    kept = database(clinic)
    with kept.writing() as connection:
        connection.exec_driver_sql("DROP TRIGGER audit_entries_no_delete")
        connection.exec_driver_sql("DELETE FROM audit_entries WHERE number = 3")
    kept.close()
    assert clinic("check")[0] == 0
    code, said, told = clinic("check", "--noted", noted)
    assert code == 2
    assert said == "Problem: the trail: entry 3 was noted, and the trail ends with 2.\n"
    assert told == "imu-rom: something is not as it must be; keep all as it is, and look at the last backup.\n"


def test_a_purge_says_what_went(clinic):
    clinic(*NEW)
    assert clinic("purge")[1] == "Removed 0 patients, 0 withdrawn recordings and 0 stored files.\n"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["add-clinician", "anna@example.org"], "there is no clinic yet; make one by imu-rom clinic init."),
        (["init"], "missing option '--name'"),
        (["init", "--name", "X", "--time-zone", "Berlin"], "a time zone must be a name such as Europe/Berlin"),
        (["init", "--name", "X", "--phone", "call me"], "a phone number must be digits"),
        (["invite", "nobody"], "no clinician signs in as 'nobody'; see imu-rom clinic list."),
        (["invite", "x", "--language", "de"], "--language and --clinic are for --patient only"),
        (["invite", "x", "--patient", "--without-second-factor"], "is for clinicians only"),
        (["close-account", "nobody"], "no clinician signs in as 'nobody'"),
        (["check", "--noted", "5"], "must be NUMBER:HASH"),
        (["restore", "nowhere"], "does not exist"),
    ],
)
def test_what_cannot_be_is_one_sentence(clinic, words, said):
    code, out, told = clinic(*words)
    assert (code, out) == (2, "")
    assert told.startswith("imu-rom: ")
    assert said in told
    assert told.count("\n") == 1


@pytest.mark.parametrize("words", [["list"], ["check"], ["restore", "."]])
def test_without_its_packages_it_says_what_to_install(clinic, monkeypatch, words):
    present = clinic_service.find_spec
    monkeypatch.setattr(clinic_service, "find_spec", lambda name: None if name == "alembic" else present(name))
    code, said, told = clinic(*words)
    assert (code, said) == (2, "")
    assert told == ("imu-rom: a clinic's service needs more packages (alembic); pip install 'imu-rom[clinic]'.\n")
    assert not clinic.home.exists()


def test_what_the_extra_brings_is_what_is_needed():
    given = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text("utf-8"))
    asked = {re.match(r"[a-z0-9-]+", each)[0] for each in given["project"]["optional-dependencies"]["clinic"]}
    names = {"argon2": "argon2-cffi"}
    assert {names.get(each, each).replace("_", "-") for each in clinic_service.NEEDED} == asked


def test_a_database_that_is_none_is_one_sentence_and_left_alone(clinic):
    clinic.home.mkdir()
    (clinic.home / "clinic.sqlite").write_text("not a database at all, but somebody's text\n" * 9)
    code, _, told = clinic("list")
    assert code == 2
    assert told.count("\n") == 1
    assert Path(clinic.home / "clinic.sqlite").read_text().startswith("not a database")


def test_nothing_is_analysed_anew_where_nothing_was_sent(clinic):
    code, out, _ = clinic("reanalyse", "--all")
    assert (code, out) == (0, "Nothing is to be analysed anew.\n")
