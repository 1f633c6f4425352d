"""Every route of the application, walked as everybody who might come along."""

import logging
import re
import shutil
import sys
from dataclasses import dataclass, replace
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace

import pytest
from starlette.responses import PlainTextResponse

from imu_rom.clinic.configuration import read_configuration
from imu_rom.clinic.consents import withdraw_consent
from imu_rom.clinic.passphrases import hash_anew
from imu_rom.clinic.schema import users
from imu_rom.clinic.service import open_service
from imu_rom.clinic.web.application import create_application
from imu_rom.clinic.web.routes import ROUTES

sys.path.insert(0, str(Path(__file__).parent))
from walked_clinic import (
    ADDRESS,
    COOKIE,
    HOSTILE,
    OUR_OWN,
    SHUT,
    asked,
    behind_tls,
    everything_kept,
    furnished,
    token_for,
    waiting_for_a_code,
)
from who_may import CLINICIAN, EVERYBODY, PATIENT, PATIENT_ALWAYS, TABLE

NO_OBJECT = {"token": "no-such-token", "name": "style.css"}
# as all rows made by hand
MONDAY_MORNING_MS = 1_796_025_600_000
SHOWN = ("text/html", "text/plain", "text/css", "text/javascript", "application/json")
TAKEN_AWAY = ("text/calendar", "application/zip")
ELSEWHERE = "https://elsewhere.example"
FOREIGN = (
    {"origin": ELSEWHERE, "sec-fetch-site": "cross-site"},
    {"origin": ELSEWHERE},
    {"origin": "null"},
    {"origin": ADDRESS.replace("https", "http")},
    {"origin": f"{ADDRESS}.elsewhere.example"},
    {"origin": ADDRESS, "sec-fetch-site": "cross-site"},
    {"origin": ADDRESS, "sec-fetch-site": "same-site"},
    {"sec-fetch-site": "none"},
    {"referer": f"{ADDRESS}/today"},
)


@pytest.fixture
def here(service):
    return furnished(service, "Park")


@pytest.fixture
def there(service):
    return furnished(service, "Hill")


@pytest.fixture
def application(service):
    return create_application(behind_tls(service))


@pytest.fixture
def gates(service, application, monkeypatch):
    """The application with nothing behind its gates: who is let in is told 299."""

    def reached(request, permitted):
        return PlainTextResponse("", status_code=299)

    monkeypatch.setattr("imu_rom.clinic.web.routes.ROUTES", [replace(each, handler=reached) for each in ROUTES])
    return create_application(behind_tls(service))


def all_routes(application):
    """Method and path of all that the framework itself would answer, wherever it was added."""
    return [
        (method, each.path)
        for each in application.application.application.routes
        for method in sorted(each.methods - {"HEAD"})
    ]


def path_with(path, ids):
    return re.sub(r"\{(\w+)\}", lambda match: (NO_OBJECT | ids)[match[1]], path)


def objects_in(path):
    return set(re.findall(r"\{(\w+)\}", path)) - set(NO_OBJECT)


def request(method, path, token, headers=OUR_OWN, form=None):
    return (method, path, token, headers if method == "POST" else {}, form if method == "POST" else None)


def without_nonce(answer):
    return re.sub(r'nonce="[^"]*"', "", answer.text)


def test_every_route_stands_in_the_table(application):
    routes = all_routes(application)
    assert sorted(set(routes)) == sorted(TABLE)
    # one that stands twice is answered by the first alone
    assert len(routes) == len(set(routes))


def test_every_route_is_for_those_in_the_table_and_nobody_else(service, here, there, gates):
    no_such = dict.fromkeys(here.ids, "0" * 32)
    tokens = {
        "nobody": None,
        "made up": "x" * 43,
        "code to come": waiting_for_a_code(service, here.clinician),
        "patient": token_for(service, here.account.user_id),
        "other patient": token_for(service, here.other_account.user_id),
        "patient elsewhere": token_for(service, there.account.user_id),
        "clinician": token_for(service, here.clinician.user_id),
        "clinician elsewhere": token_for(service, there.clinician.user_id),
    }
    kept = everything_kept(service)
    routes = all_routes(gates)
    missing = asked(gates, [request("GET", "/no-such-page", token) for token in tokens.values()])
    as_missing = {visitor: without_nonce(each) for visitor, each in zip(tokens, missing, strict=True)}
    wrong = []
    for visitor, token in tokens.items():
        cases = [(here.ids, "theirs")] + [(no_such, "nobody's")] * (visitor in {"patient", "clinician"})
        for ids, objects_are in cases:
            answers = asked(gates, [request(method, path_with(path, ids), token) for method, path in routes])
            for (method, path), answer in zip(routes, answers, strict=True):
                expected = outcome(TABLE[method, path], visitor, bool(objects_in(path)), objects_are)
                got = told(answer)
                if got != expected or (got == "missing" and without_nonce(answer) != as_missing[visitor]):
                    wrong.append((visitor, method, path, objects_are, got, expected))
    assert wrong == []
    assert everything_kept(service) == kept


def outcome(who, visitor, has_objects, objects_are):
    """What a visitor must be told where all objects in the path are the first patient's, or nobody's."""
    if who == EVERYBODY:
        return "let in"
    if visitor in {"nobody", "made up", "code to come"}:
        return "sign in first"
    role = CLINICIAN if visitor.startswith("clinician") else PATIENT
    same_role = role == (CLINICIAN if who == CLINICIAN else PATIENT)
    own = visitor in {"patient", "clinician"} and objects_are == "theirs"
    return "let in" if same_role and (own or not has_objects) else "missing"


def told(answer):
    if answer.status_code == 303:
        return "sign in first" if answer.headers["location"].partition("?")[0] == "/sign-in" else "agree first"
    return {299: "let in", 404: "missing"}.get(answer.status_code, str(answer.status_code))


def test_who_took_the_consent_back_reaches_only_what_is_theirs_by_right(service, here, gates):
    with service.database.writing() as connection:
        withdraw_consent(connection, service.clock.now_ms(), here.patient, here.account.user_id)
    token = token_for(service, here.account.user_id)
    routes = all_routes(gates)
    answers = asked(gates, [request(method, path_with(path, here.ids), token) for method, path in routes])
    expected = {EVERYBODY: "let in", PATIENT_ALWAYS: "let in", PATIENT: "agree first", CLINICIAN: "missing"}
    for route, answer in zip(routes, answers, strict=True):
        assert told(answer) == expected[TABLE[route]], route


def test_objects_of_two_people_in_one_path_are_nobodys(service, here, there, gates):
    token = token_for(service, here.clinician.user_id)
    mixed = here.ids | {"patient_id": here.other.patient_id}
    abroad = there.ids | {"patient_id": here.ids["patient_id"]}
    both = [each for each in all_routes(gates) if len(objects_in(each[1])) > 1]
    for ids in (mixed, abroad):
        for answer in asked(gates, [request(method, path_with(path, ids), token) for method, path in both]):
            assert told(answer) == "missing"


@pytest.mark.parametrize("odd", ["%00", "%ff", "..%2f..%2fetc", "'%20OR%201=1--", "a" * 5000, "%F0%9F%A6%B5"])
def test_whatever_stands_for_an_id_is_as_if_it_were_not_there(service, here, gates, odd):
    token = token_for(service, here.clinician.user_id)
    paths = [each for each in all_routes(gates) if objects_in(each[1])]
    answers = asked(
        gates, [request(method, path_with(path, dict.fromkeys(here.ids, odd)), token) for method, path in paths]
    )
    assert {told(each) for each in answers} <= {"missing"}


def test_no_write_is_taken_from_another_site(service, here, gates):
    owners = {
        PATIENT: token_for(service, here.account.user_id),
        CLINICIAN: token_for(service, here.clinician.user_id),
        EVERYBODY: None,
    }
    owners[PATIENT_ALWAYS] = owners[PATIENT]
    kept = everything_kept(service)
    writes = [each for each in all_routes(gates) if each[0] == "POST"]
    assert writes
    answers = asked(
        gates,
        [
            request("POST", path_with(path, here.ids), owners[TABLE[method, path]], headers, {"answer": "yes"})
            for headers in FOREIGN
            for method, path in writes
        ],
    )
    assert {each.status_code for each in answers} == {403}
    # the same from our own pages is let in, so it was the other site that kept them out
    own = asked(gates, [request("POST", path_with(path, here.ids), owners[TABLE[m, path]]) for m, path in writes])
    assert {told(each) for each in own} == {"let in"}
    for method in ("PUT", "PATCH", "DELETE", "TRACE"):
        for answer in asked(gates, [(method, path_with(path, here.ids), None, OUR_OWN, None) for _, path in writes]):
            assert answer.status_code in {403, 404, 405}, method
    assert everything_kept(service) == kept


class Marks(HTMLParser):
    """What a browser would make of a page."""

    def __init__(self, text):
        super().__init__()
        self.names, self.attributes, self.scripts, self._in_script = set(), set(), [], False
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.names.add(tag)
        self.attributes |= {name for name, _ in attrs}
        self._in_script = tag == "script"
        if self._in_script:
            self.scripts.append(dict(attrs))

    def error(self, message):
        raise ValueError(message)


@dataclass
class Walked:
    """All pages that can be read, asked once with everything behind them, by those who may and by nobody."""

    side: object
    pages: list
    answers: list
    logged: list
    kept_before: dict
    kept_after: dict


NO_NUMBERS = ("²", "9" * 5000, "99999999", "-1", "1e3", "٣")
# where a page has more to show than without it
ASKING = {"/diary/answers": "?asked=yes", "/sent/{recording_id}/answers": "?asked=yes"}


@pytest.fixture(scope="module")
def walked(migrated_file, tmp_path_factory):
    home = tmp_path_factory.mktemp("walked")
    shutil.copy(migrated_file, home / "clinic.sqlite")
    service = behind_tls(open_service(read_configuration(home, {}), SimpleNamespace(now_ms=lambda: MONDAY_MORNING_MS)))
    side = furnished(service, "Park")
    application = create_application(service)
    tokens = {
        CLINICIAN: token_for(service, side.clinician.user_id),
        PATIENT: token_for(service, side.account.user_id),
        EVERYBODY: None,
    }
    tokens[PATIENT_ALWAYS] = tokens[PATIENT]
    paths = [(method, path) for method, path in all_routes(application) if method == "GET"]
    reading = [
        request(method, path_with(path, side.ids) + ASKING.get(path, ""), tokens[TABLE[method, path]])
        for method, path in paths
    ]
    patient = side.ids["patient_id"]
    odd = [
        request("GET", "/no-such-page", None),
        request("GET", f"/patients/{patient}", None),
        *(request("GET", f"/patients/{patient}/plan?stage={odd}", tokens[CLINICIAN]) for odd in NO_NUMBERS),
        request("GET", f"/{SHUT}", None),
        request("GET", f"/invitation/{SHUT}?a={SHUT}", None),
        request("GET", "/sign-in", SHUT),
        request("GET", f"/sign-in?next={HOSTILE}&told={HOSTILE}&language={HOSTILE}", None),
        ("GET", "/sign-in", None, {"user-agent": SHUT, "accept-language": HOSTILE, "x-forwarded-for": SHUT}, None),
        ("GET", "/sign-in", None, {"host": "elsewhere.example"}, None),
        ("HEAD", "/sign-in", None, {}, None),
        request("POST", "/sign-in", None, {}, {}),
        request("POST", "/sign-in", None, OUR_OWN | {"content-length": "999999999999"}, {}),
        request("POST", f"/invitation/{SHUT}", None, form={"passphrase": HOSTILE}),
    ]
    kept = everything_kept(service)
    logger, lines = logging.getLogger("imu_rom"), []
    handler = logging.Handler()
    handler.emit = lambda line: lines.append(handler.format(line))
    logger.addHandler(handler)
    level = logger.level
    logger.setLevel(logging.DEBUG)
    try:
        answers = asked(application, [*reading, *odd])
        now = everything_kept(service)
        # this one is written down
        answers += asked(
            application, [request("POST", "/sign-in", None, form={"name": HOSTILE, "passphrase": HOSTILE})]
        )
        writing = [
            *(("POST", f"/patients/{patient}/plan", {"stage": odd}) for odd in NO_NUMBERS),
            *(
                ("POST", f"/recordings/{side.ids['recording_id']}/marks", {"based_on": odd, "marks": "{"})
                for odd in NO_NUMBERS
            ),
            ("POST", f"/patients/{patient}/plan/text", {"toml": "\0", "applies_from": "2026-12-01", "reason": "x"}),
        ]
        answers += asked(
            application, [request(method, path, tokens[CLINICIAN], form=form) for method, path, form in writing]
        )
    finally:
        logger.removeHandler(handler)
        logger.setLevel(level)
        service.database.close()
    pages = [(TABLE[route], route[1], answer) for route, answer in zip(paths, answers, strict=False)]
    return Walked(side, pages, answers, lines, kept, now)


def test_reading_writes_nothing(walked):
    assert walked.kept_after == walked.kept_before


def test_every_page_is_there(walked):
    # without a link, a code to come or a second factor that is being set up there is nothing to show, and after a sign
    # that was noted no page to keep says to go on
    elsewhere = {path for _, path, answer in walked.pages if answer.status_code != 200}
    assert elsewhere == {"/", "/invitation/{token}", "/sign-in/code", "/account/second-factor", "/history/print"}
    assert {answer.status_code for answer in walked.answers} <= {200, 303, 400, 403, 404, 413, 421}


def test_every_answer_has_its_guards(walked):
    for answer in walked.answers:
        headers = answer.headers
        policy = dict(part.strip().partition(" ")[::2] for part in headers["content-security-policy"].split(";"))
        assert policy["default-src"] == policy["frame-ancestors"] == policy["base-uri"] == "'none'"
        assert policy["form-action"] == "'self'"
        assert "unsafe" not in policy["script-src"]
        assert "*" not in headers["content-security-policy"]
        assert "http" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["x-frame-options"] == "DENY"
        assert headers["referrer-policy"] in {"same-origin", "no-referrer"}
        assert headers["strict-transport-security"].startswith("max-age=31536000")
        assert "server" not in headers
        if "/static/" not in str(answer.url):
            assert headers["cache-control"] == "no-store", answer.url
        kind = headers.get("content-type", "").partition(";")[0]
        if answer.content:
            assert kind in {*SHOWN, *TAKEN_AWAY}, answer.url
        if kind in TAKEN_AWAY:
            assert headers["content-disposition"].startswith("attachment"), answer.url


def test_every_page_of_a_patient_says_that_nobody_watches_and_whom_to_call(walked):
    shown = 0
    for who, path, answer in walked.pages:
        if who in {PATIENT, PATIENT_ALWAYS} and "<nav" in answer.text:
            shown += 1
            assert "Nobody watches this page while you use it" in answer.text, path
            assert 'href="tel:+4315550100"' in answer.text, path
    assert shown >= 15


def test_hostile_words_are_shown_as_words_and_reach_no_log(walked):
    said = 0
    for answer in walked.answers:
        assert SHUT not in answer.headers.get("location", "")
        if answer.headers.get("content-type", "").startswith("text/html"):
            marks = Marks(answer.text)
            assert SHUT not in marks.names, answer.url
            assert f"on{SHUT}" not in marks.attributes, answer.url
            assert "49" not in re.findall(r"onhostile=1&gt;(\w*)", answer.text)
            said += "&lt;hostile" in answer.text
            # ours carry the answer's own nonce, or hold data that nothing runs
            policy = answer.headers["content-security-policy"]
            for script in marks.scripts:
                assert script.get("type") == "application/json" or f"'nonce-{script.get('nonce')}'" in policy
    assert said >= 30
    assert len(walked.logged) >= len(walked.answers)
    side, logged = walked.side, "\n".join(walked.logged)
    for secret in (SHUT, "Park", side.patient.label, side.patient.pseudonym, "@", "555"):
        assert secret not in logged, secret


def test_a_copy_of_everything_is_made_a_few_times_an_hour(service, here, application):
    once = request("POST", "/my-data/copy", token_for(service, here.account.user_id))
    other = request("POST", "/my-data/copy", token_for(service, here.other_account.user_id))
    answers = asked(application, [once] * 7 + [other])
    assert [each.status_code for each in answers] == [200] * 6 + [429, 200]


def test_a_character_that_no_text_has_breaks_nothing(application, monkeypatch):
    # without the work of a passphrase
    monkeypatch.setattr("imu_rom.clinic.sign_ins._compared", lambda *_: False)
    (answer,) = asked(application, [request("POST", "/sign-in", None, form={"name": "\0", "passphrase": "\0"})])
    assert answer.status_code == 403


def test_nothing_of_another_clinic_is_in_any_list(service, here, there, application):
    tokens = [token_for(service, each.user_id) for each in (there.clinician, there.account, here.other_account)]
    lists = [path for method, path in all_routes(application) if method == "GET" and not objects_in(path)]
    answers = asked(application, [request("GET", path_with(path, {}), token) for token in tokens for path in lists])
    for answer in answers:
        for secret in (here.patient.label, here.patient.pseudonym, *here.ids.values()):
            assert secret not in answer.text, answer.url


def test_the_cookie_goes_to_this_service_alone_and_no_script_reads_it(service, here, application):
    words = "four green boats swim"
    with service.database.writing() as connection:
        own = users.c.id == here.clinician.user_id
        connection.execute(users.update().where(own).values(passphrase_hash=hash_anew(words)))
    form = {"name": "clinician@park.example", "passphrase": words, "next": "/patients"}
    answer, again = asked(application, [request("POST", "/sign-in", "brought along", form=form)] * 2)
    assert answer.headers["location"] == "/patients"
    (cookie,) = answer.headers.get_list("set-cookie")
    value, *flags = [each.strip() for each in cookie.split(";")]
    assert value.startswith(f"{COOKIE}=")
    assert {each.lower() for each in flags} == {"httponly", "secure", "path=/", "samesite=lax"}
    token = value.partition("=")[2]
    # a sign-in's token is never one that was brought along, nor one of before
    assert len(token) >= 43
    assert "brought" not in token
    assert token not in again.headers["set-cookie"]
    (left,) = asked(application, [request("POST", "/sign-out", token)])
    assert "Max-Age=0" in left.headers["set-cookie"]
    (after,) = asked(application, [request("GET", "/patients", token)])
    assert after.headers.get("location", "").startswith("/sign-in") or after.status_code == 404


def test_an_address_that_a_visitor_makes_up_gets_no_more_tries(service, application, monkeypatch):
    # without the work of a passphrase
    monkeypatch.setattr("imu_rom.clinic.sign_ins._compared", lambda *_: False)
    limits = replace(service.configuration.limits, sign_ins_per_address=3)
    strict = create_application(
        replace(behind_tls(service), configuration=replace(behind_tls(service).configuration, limits=limits))
    )
    made_up = [
        OUR_OWN
        | {"x-forwarded-for": f"192.0.2.{number}", "forwarded": f"for=192.0.2.{number}", "x-real-ip": "192.0.2.1"}
        for number in range(5)
    ]
    answers = asked(
        strict,
        [request("POST", "/sign-in", None, headers, {"name": f"n{at}"}) for at, headers in enumerate(made_up)],
    )
    assert [each.status_code for each in answers] == [403, 403, 403, 429, 429]
