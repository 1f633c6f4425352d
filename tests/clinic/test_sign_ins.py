"""Signing in: the same answer and work for unknown and wrong, sessions that end, limits that outlive a restart."""

import shutil
from dataclasses import replace

import pyotp
import pytest
import sqlalchemy
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import select, update

from imu_rom.clinic import passphrases
from imu_rom.clinic.accounts import add_clinician, add_patient_account, set_active, sign_in_name_of
from imu_rom.clinic.audit import verify
from imu_rom.clinic.clinics import add_clinic
from imu_rom.clinic.database import open_database
from imu_rom.clinic.invitations import accept_invitation, invite
from imu_rom.clinic.passphrases import hash_passphrase, is_right
from imu_rom.clinic.patients import add_patient
from imu_rom.clinic.rate_limits import RateLimit, count, network_of, sweep
from imu_rom.clinic.schema import audit_entries, rate_counts, users, web_sessions
from imu_rom.clinic.second_factors import (
    KEY_PURPOSE,
    begin_second_factor,
    confirm_second_factor,
    enrolment_address,
    has_second_factor,
    remove_second_factor,
    use_code,
)
from imu_rom.clinic.sign_ins import (
    Refusal,
    SignedIn,
    confirm_code,
    keep_alive,
    revoke_sessions,
    session_account,
    sign_in,
    sign_out,
    start_session,
    sweep_sessions,
    waiting_account,
)
from imu_rom.clinic.tokens import token_hash
from imu_rom.errors import ClinicError

PASSPHRASE = "seven slow heel raises"
WRONG = "seven slow heel drops"
HERE = "192.0.2.1"


@pytest.fixture(scope="session")
def hashed():
    return hash_passphrase(PASSPHRASE, "anna@example.org")


@pytest.fixture
def clinician(service, hashed):
    with service.database.writing() as connection:
        clinic = add_clinic(connection, 0, name="Example Clinic", phone="+49 30 1234567", time_zone="Europe/Berlin")
        account = add_clinician(connection, 0, clinic_id=clinic.clinic_id, sign_in_name="anna@example.org")
        invited = invite(
            connection, service.clock.now_ms(), account, limits=service.configuration.limits, actor_id=None
        )
        accept_invitation(connection, service.clock.now_ms(), invited.token, hashed)
    return account


def who(service, token):
    with service.database.reading() as connection:
        return session_account(connection, token, service.clock.now_ms())


def actions(service):
    with service.database.reading() as connection:
        return list(connection.scalars(select(audit_entries.c.action).order_by(audit_entries.c.number)))


def test_the_right_passphrase_signs_in_however_the_name_is_typed(service, clinician):
    signed_in = sign_in(service, " Anna@Example.org ", PASSPHRASE, HERE)
    assert signed_in == SignedIn(clinician, signed_in.token, code_needed=False)
    assert who(service, signed_in.token) == clinician
    assert actions(service)[-1] == "sign in"
    with service.database.reading() as connection:
        assert verify(connection).broken is None


def test_unknown_and_wrong_and_closed_get_the_same_answer_after_the_same_work(service, clinician, monkeypatch):
    with service.database.writing() as connection:
        add_clinician(connection, 0, clinic_id=clinician.clinic_id, sign_in_name="not.joined")
        closed = add_clinician(connection, 0, clinic_id=clinician.clinic_id, sign_in_name="closed")
        connection.execute(update(users).where(users.c.id == closed.user_id).values(passphrase_hash="x"))
        set_active(connection, 0, closed, active=False)
    passphrases.waste_as_long("so that the hash of nobody is there")
    work = []
    hasher = passphrases._hasher()
    real = hasher.verify
    monkeypatch.setattr(type(hasher), "verify", lambda *given: work.append("hash") or real(*given[1:]))
    sqlalchemy.event.listen(service.database.engine, "before_cursor_execute", lambda *given: work.append(given[2]))
    seen = {}
    # once before, so that the address is counted already
    sign_in(service, "anybody", WRONG, HERE)
    for name in ("anna@example.org", "nobody@example.org", "not.joined", "closed"):
        work.clear()
        assert sign_in(service, name, WRONG, HERE) is Refusal.WRONG
        seen[name] = tuple(work)
    assert "hash" in seen["anna@example.org"]
    assert len(set(seen.values())) == 1
    assert actions(service)[-4:] == ["refuse sign-in"] * 4


def test_what_was_tried_is_in_the_trail_as_a_keyed_hash_only(service, clinician):
    sign_in(service, "my secret words typed into the wrong field", WRONG, HERE)
    with service.database.reading() as connection:
        entry = connection.execute(select(audit_entries).order_by(audit_entries.c.number.desc()).limit(1)).one()
    assert (entry.object_kind, len(entry.object_id), entry.actor_id) == ("name", 32, None)
    assert "secret" not in entry.object_id


def test_tokens_and_passphrases_are_nowhere_in_the_database(service, clinician):
    signed_in = sign_in(service, "anna@example.org", PASSPHRASE, HERE)
    with service.database.writing() as connection:
        invited = invite(connection, 0, clinician, limits=service.configuration.limits, actor_id=None)
        secret = begin_second_factor(connection, clinician, service.configuration.key(KEY_PURPOSE))
    kept = []
    with service.database.reading() as connection:
        for table in (users, web_sessions, audit_entries, rate_counts):
            kept += [str(row) for row in connection.execute(select(table))]
    for hidden in (signed_in.token, invited.token, secret, PASSPHRASE, HERE):
        assert not any(hidden in row for row in kept)
        assert hidden not in repr((signed_in, invited))
    # 256 bits in base 64
    assert len(signed_in.token) == len(invited.token) == 43


@pytest.fixture
def quick(monkeypatch):
    """Comparing takes no time, where it is not what the test is about."""
    monkeypatch.setattr("imu_rom.clinic.sign_ins.is_right", lambda _, typed: typed == PASSPHRASE)
    monkeypatch.setattr("imu_rom.clinic.sign_ins.waste_as_long", len)


def test_too_many_tries_are_refused_also_the_right_one_until_the_time_is_over(service, clinician, database_url, quick):
    limits = service.configuration.limits
    for _ in range(limits.sign_ins_per_name):
        assert sign_in(service, "anna@example.org", WRONG, HERE) is Refusal.WRONG
    assert sign_in(service, "anna@example.org", PASSPHRASE, HERE) is Refusal.TOO_OFTEN
    # after a restart too, and from elsewhere
    restarted = replace(service, database=open_database(database_url))
    assert sign_in(restarted, "anna@example.org", PASSPHRASE, "198.51.100.7") is Refusal.TOO_OFTEN
    restarted.database.close()
    service.clock.advance(minutes=limits.sign_in_minutes, ms=-1)
    assert sign_in(service, "anna@example.org", PASSPHRASE, HERE) is Refusal.TOO_OFTEN
    service.clock.advance(ms=1)
    assert isinstance(sign_in(service, "anna@example.org", PASSPHRASE, HERE), SignedIn)


def test_many_names_from_one_address_are_refused_and_other_addresses_are_not(service, clinician, quick):
    for number in range(service.configuration.limits.sign_ins_per_address):
        assert sign_in(service, f"guess-{number}", WRONG, HERE) is Refusal.WRONG
    assert sign_in(service, "anna@example.org", PASSPHRASE, HERE) is Refusal.TOO_OFTEN
    assert isinstance(sign_in(service, "anna@example.org", PASSPHRASE, "198.51.100.7"), SignedIn)


@pytest.mark.parametrize(
    ("address", "counted"),
    [
        ("192.0.2.1", "192.0.2.1"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("2001:db8:1:2::", "2001:db8:1:2::/64"),
        ("fe80::1%eth0", "fe80::/64"),
        ("::ffff:192.0.2.1", "192.0.2.1"),
        ("unknown", "unknown"),
    ],
)
def test_addresses_that_one_machine_chooses_from_count_together(address, counted):
    assert network_of(address) == counted


ACTS = st.lists(st.tuples(st.integers(0, 400), st.sampled_from("ab")), max_size=40)


@settings(max_examples=40, deadline=None)
@given(acts=ACTS, most=st.integers(1, 4), window_ms=st.integers(1, 500))
def test_no_stretch_as_long_as_the_window_holds_more_than_twice_the_limit(one_connection, acts, most, window_ms):
    # a window begins with the first that is counted, so that at worst the end of one and the start of the next meet
    limit, allowed, now_ms = RateLimit("try", most, window_ms), {"a": [], "b": []}, 1000
    one_connection.execute(rate_counts.delete())
    for pause_ms, whom in acts:
        now_ms += pause_ms
        if count(one_connection, now_ms, bytes(32), limit, whom):
            allowed[whom].append(now_ms)
    for times in allowed.values():
        for at in times:
            assert sum(at <= each < at + window_ms for each in times) <= 2 * most
        # and whoever waits that long after the last may go on
        if times:
            later = max(times) + window_ms
            assert count(one_connection, max(now_ms, later), bytes(32), limit, "a" if times is allowed["a"] else "b")


@pytest.fixture(scope="module")
def one_connection(tmp_path_factory, migrated_file):
    path = shutil.copy(migrated_file, tmp_path_factory.mktemp("counts") / "clinic.sqlite")
    opened = open_database(f"sqlite:///{path}")
    with opened.writing() as connection:
        yield connection
    opened.close()


def test_a_clock_that_is_set_back_locks_nobody_out(service, clinician, quick):
    for _ in range(service.configuration.limits.sign_ins_per_name):
        sign_in(service, "anna@example.org", WRONG, HERE)
    service.clock.advance(days=-400)
    assert isinstance(sign_in(service, "anna@example.org", PASSPHRASE, HERE), SignedIn)


def begin(service, account):
    with service.database.writing() as connection:
        return start_session(connection, service.clock.now_ms(), account.user_id, service.configuration.limits).token


def test_a_session_ends_when_nobody_comes_back(service, clinician):
    token = begin(service, clinician)
    idle = service.configuration.limits.clinician_idle_minutes
    service.clock.advance(minutes=idle, ms=-1)
    assert who(service, token) == clinician
    service.clock.advance(ms=1)
    assert who(service, token) is None
    keep_alive(service, token)
    assert who(service, token) is None


def test_a_clock_that_is_set_back_makes_no_session_outlive_its_time(service, clinician):
    token = begin(service, clinician)
    service.clock.advance(minutes=-4)
    assert who(service, token) == clinician
    keep_alive(service, token)
    service.clock.advance(minutes=service.configuration.limits.clinician_idle_minutes)
    assert who(service, token) is None
    # begun with a clock that was a year ahead, it would have been open for that year
    token = begin(service, clinician)
    service.clock.advance(days=-365)
    assert who(service, token) is None
    assert who(service, begin(service, clinician)) == clinician


def test_a_session_that_is_used_goes_on_until_its_whole_time_is_over(service, clinician):
    token = begin(service, clinician)
    limits = service.configuration.limits
    began = service.clock.at_ms
    while service.clock.at_ms < began + limits.session_hours * 3_600_000 - 1:
        assert who(service, token) == clinician
        keep_alive(service, token)
        service.clock.at_ms = min(
            service.clock.at_ms + (limits.clinician_idle_minutes - 1) * 60_000,
            began + limits.session_hours * 3_600_000 - 1,
        )
    assert who(service, token) == clinician
    keep_alive(service, token)
    service.clock.advance(ms=1)
    assert who(service, token) is None


def test_being_there_is_written_once_a_minute_at_most(service, clinician):
    token = begin(service, clinician)
    wrote = []
    sqlalchemy.event.listen(
        service.database.engine, "before_cursor_execute", lambda *given: wrote.append(given[2].split()[0])
    )
    for _ in range(59):
        service.clock.advance(seconds=1)
        keep_alive(service, token)
    assert "UPDATE" not in wrote
    service.clock.advance(seconds=1)
    keep_alive(service, token)
    assert wrote.count("UPDATE") == 1


def test_signing_out_ends_one_session_and_revoking_ends_all(service, clinician):
    first, second, third = (begin(service, clinician) for _ in range(3))
    now_ms = service.clock.now_ms()
    with service.database.writing() as connection:
        sign_out(connection, now_ms, first)
        sign_out(connection, now_ms, first)
        sign_out(connection, now_ms, "no token at all")
    assert [who(service, each) for each in (first, second, third)] == [None, clinician, clinician]
    with service.database.writing() as connection:
        assert revoke_sessions(connection, now_ms, clinician, actor_id=None) == 2
    assert [who(service, each) for each in (second, third)] == [None, None]
    assert actions(service).count("sign out") == 1


def test_what_is_over_for_long_is_swept_and_what_is_not_is_kept(service, clinician, quick):
    key, limit = service.configuration.key("any"), RateLimit("try", 1, 86_400_000)
    old = begin(service, clinician)
    with service.database.writing() as connection:
        assert count(connection, service.clock.now_ms(), key, limit, "old")
    service.clock.advance(days=30, minutes=29)
    token = begin(service, clinician)
    for swept in (0, 1):
        with service.database.writing() as connection:
            now_ms = service.clock.now_ms()
            assert count(connection, now_ms, key, limit, "new") is (swept == 0)
            sweep(connection, now_ms)
            sweep_sessions(connection, now_ms)
            kept = set(connection.scalars(select(web_sessions.c.token_sha256)))
            counts = connection.scalar(select(sqlalchemy.func.count()).select_from(rate_counts))
        assert kept == {token_hash(token), *([token_hash(old)] if swept == 0 else [])}
        assert counts == 1
        service.clock.advance(hours=2)


def test_whoever_is_closed_out_is_out_at_once(service, clinician):
    token = begin(service, clinician)
    with service.database.writing() as connection:
        set_active(connection, service.clock.now_ms(), clinician, active=False)
    assert who(service, token) is None
    assert sign_in(service, "anna@example.org", PASSPHRASE, HERE) is Refusal.WRONG


def test_a_patient_is_signed_in_as_the_patient(service, clinician):
    with service.database.writing() as connection:
        patient = add_patient(
            connection, 0, clinic_id=clinician.clinic_id, actor_id=clinician.user_id, label="Bed 4", language="de"
        )
        account = add_patient_account(connection, 0, patient, actor_id=clinician.user_id)
        again = add_patient_account(
            connection, 0, replace(patient, user_id=account.user_id), actor_id=clinician.user_id
        )
        name = sign_in_name_of(connection, account.user_id)
    assert account == again
    assert who(service, begin(service, account)).patient_id == patient.patient_id
    # tells nothing of the person, and can be read out on the phone
    assert len(name) == 8
    assert not set(name) & set("01oil")


@given(st.text(st.characters(codec=None)))
def test_whatever_comes_as_a_token_can_be_looked_up(text):
    assert len(token_hash(text)) == 64


# RFC 6238, appendix B, SHA-1, the last six of its eight digits
RFC_6238 = [
    (59, "287082"),
    (1111111109, "081804"),
    (1111111111, "050471"),
    (1234567890, "005924"),
    (2000000000, "279037"),
]
RFC_SECRET = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"


@pytest.mark.parametrize(("at_s", "code"), RFC_6238)
def test_codes_are_those_of_the_standard(service, clinician, monkeypatch, at_s, code):
    monkeypatch.setattr(pyotp, "random_base32", lambda **_: RFC_SECRET)
    key = service.configuration.key(KEY_PURPOSE)
    with service.database.writing() as connection:
        assert begin_second_factor(connection, clinician, key) == RFC_SECRET
        assert not has_second_factor(connection, clinician)
        assert confirm_second_factor(connection, at_s * 1000, clinician, key, f" {code[:3]} {code[3:]}")
        assert has_second_factor(connection, clinician)


@pytest.fixture
def with_codes(service, clinician):
    """A clinician of whom a code is asked, and the generator of the codes."""
    key = service.configuration.key(KEY_PURPOSE)
    with service.database.writing() as connection:
        generator = pyotp.TOTP(begin_second_factor(connection, clinician, key))
        now_ms = service.clock.now_ms()
        assert confirm_second_factor(connection, now_ms, clinician, key, generator.at(now_ms // 1000))
    service.clock.advance(minutes=2)
    return lambda seconds=0: generator.at(service.clock.now_ms() // 1000 + seconds)


def test_nothing_is_seen_before_the_code_and_the_token_changes_with_it(service, clinician, with_codes):
    signed_in = sign_in(service, "anna@example.org", PASSPHRASE, HERE)
    assert signed_in.code_needed
    assert who(service, signed_in.token) is None
    with service.database.reading() as connection:
        assert waiting_account(connection, signed_in.token, service.clock.now_ms()) == clinician
    assert confirm_code(service, signed_in.token, "000000") is Refusal.WRONG
    inside = confirm_code(service, signed_in.token, with_codes())
    assert who(service, inside.token) == clinician
    assert inside.token != signed_in.token
    assert who(service, signed_in.token) is None
    assert confirm_code(service, inside.token, with_codes(30)) is Refusal.WRONG


def test_a_code_counts_once_and_none_before_it_does(service, clinician, with_codes):
    tokens = [sign_in(service, "anna@example.org", PASSPHRASE, HERE).token for _ in range(3)]
    now, before, after = with_codes(), with_codes(-30), with_codes(30)
    assert isinstance(confirm_code(service, tokens[0], now), SignedIn)
    assert confirm_code(service, tokens[1], now) is Refusal.WRONG
    assert confirm_code(service, tokens[1], before) is Refusal.WRONG
    assert isinstance(confirm_code(service, tokens[1], after), SignedIn)


@pytest.mark.parametrize(("seconds", "right"), [(-60, False), (-30, True), (0, True), (30, True), (60, False)])
def test_a_code_is_right_one_step_around_now(service, clinician, with_codes, quick, seconds, right):
    token = sign_in(service, "anna@example.org", PASSPHRASE, HERE).token
    assert isinstance(confirm_code(service, token, with_codes(seconds)), SignedIn) is right


def test_codes_cannot_be_guessed_in_a_row(service, clinician, with_codes):
    token = sign_in(service, "anna@example.org", PASSPHRASE, HERE).token
    for _ in range(service.configuration.limits.sign_ins_per_name):
        assert confirm_code(service, token, "no code") is Refusal.WRONG
    assert confirm_code(service, token, with_codes()) is Refusal.TOO_OFTEN


def test_a_second_factor_is_not_replaced_before_it_is_removed(service, clinician, with_codes):
    key = service.configuration.key(KEY_PURPOSE)
    with pytest.raises(ClinicError, match="in use already"), service.database.writing() as connection:
        begin_second_factor(connection, clinician, key)
    with service.database.writing() as connection:
        remove_second_factor(connection, 0, clinician, actor_id=None)
        assert not has_second_factor(connection, clinician)
        begin_second_factor(connection, clinician, key)
    assert not sign_in(service, "anna@example.org", PASSPHRASE, HERE).code_needed


def test_a_lost_secret_is_one_sentence(service, clinician, with_codes):
    with pytest.raises(ClinicError, match=r"put the old secret\.key back"), service.database.writing() as connection:
        use_code(connection, 0, clinician, bytes(32), "123456")


def test_apps_can_read_the_enrolment():
    read = pyotp.parse_uri(enrolment_address(RFC_SECRET, "anna@example.org"))
    assert (read.secret, read.digits, read.interval, read.name) == (RFC_SECRET, 6, 30, "anna@example.org")


@pytest.mark.parametrize(
    ("passphrase", "said"),
    [
        ("fourteen chars", "at least 15 characters, this one has 14"),
        ("x" * 257, "256 characters at most"),
        ("aaaaaaaaaaaaaaaaaaaa", "easy to guess"),
        ("anna@example.org anna@example.org", "easy to guess"),
        ("Anna's passphrase 1", "easy to guess"),
        ("password password", "easy to guess"),
        ("achilles tendon clinic 2026", "easy to guess"),
        ("qwertzuiopasdfghjkl", "easy to guess"),
        ("1234567890 0987654321", "easy to guess"),
        ("horse horse horse horse", "easy to guess"),
    ],
)
def test_passphrases_that_are_easy_to_guess_are_refused(passphrase, said):
    with pytest.raises(ClinicError, match=said):
        hash_passphrase(passphrase, "anna@example.org")


@pytest.mark.parametrize(
    "passphrase",
    [
        "seven slow heel raises",
        "vier gelbe Birnen im Korb",
        "пять тихих зелёных лодок",
        "七匹の静かな緑色の小さな舟と八人の子供",
        "Xq7-mP2_vR9.kL4+",
    ],
)
def test_passphrases_of_any_kind_and_language_are_taken(passphrase, monkeypatch):
    monkeypatch.setattr(passphrases, "hash_anew", str.upper)
    assert hash_passphrase(passphrase, "anna@example.org") == passphrase.upper()


@settings(max_examples=60)
@given(
    st.lists(
        st.sampled_from(["lamp", "river", "stone", "green", "apple", "window", "quiet", "seven"]),
        min_size=4,
        unique=True,
    )
)
def test_four_words_that_have_nothing_to_do_with_each_other_are_taken(words):
    assert len(passphrases._hard_part(" ".join(words), "anna@example.org")) >= len("".join(words))


@settings(max_examples=40)
@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=80), st.text(max_size=20))
def test_whatever_is_typed_is_judged(text, name):
    assert isinstance(passphrases._hard_part(passphrases._normal(text), name), str)


def test_a_passphrase_is_the_same_in_whichever_way_its_letters_are_composed(hashed):
    composed, decomposed = "f\u00fcnf gr\u00fcne \u00c4pfel am Baum", "fu\u0308nf gru\u0308ne A\u0308pfel am Baum"
    assert is_right(hash_passphrase(composed, "x"), decomposed)
    assert is_right(hashed, PASSPHRASE)
    assert not is_right(hashed, PASSPHRASE + " ")
    assert not is_right("no hash", PASSPHRASE)


def test_hashes_have_the_parameters_of_the_standard(real_hasher):
    # RFC 9106, section 4: the second recommended option
    from argon2 import extract_parameters
    from argon2.profiles import RFC_9106_LOW_MEMORY

    kept = real_hasher().hash(PASSPHRASE)
    assert extract_parameters(kept) == RFC_9106_LOW_MEMORY
    assert real_hasher().verify(kept, PASSPHRASE)


def test_an_older_hash_is_made_anew_when_the_passphrase_is_typed(service, clinician):
    from argon2 import PasswordHasher

    older = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash(PASSPHRASE)
    with service.database.writing() as connection:
        connection.execute(update(users).values(passphrase_hash=older))
    assert isinstance(sign_in(service, "anna@example.org", PASSPHRASE, HERE), SignedIn)
    with service.database.reading() as connection:
        kept = connection.scalar(select(users.c.passphrase_hash))
    assert kept != older
    assert is_right(kept, PASSPHRASE)
