"""What stands before every page: whose request, how large, and what a browser may do with the answer."""

import asyncio
import json
import logging

import pytest

from imu_rom.clinic.web.guards import report_policy
from imu_rom.clinic.web.routes import ROUTES, page

HERE = "http://127.0.0.1:8000"


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.example", "sec-fetch-site": "cross-site"},
        {"origin": "http://elsewhere.example", "sec-fetch-site": None},
        {"origin": HERE, "sec-fetch-site": "cross-site"},
        {"origin": None, "sec-fetch-site": "same-site"},
        {"origin": None, "sec-fetch-site": "none"},
        {"origin": "null", "sec-fetch-site": None},
        {"origin": None, "sec-fetch-site": None},
        {"origin": "http://127.0.0.1:8001", "sec-fetch-site": None},
    ],
)
def test_only_our_own_pages_may_write(patient, headers):
    answer = patient.post("/sign-out", headers=headers, follow=False)
    assert answer.status_code == 403
    assert patient.get("/consent").status_code == 200


@pytest.mark.parametrize(
    "headers", [{"origin": HERE, "sec-fetch-site": None}, {"origin": None, "sec-fetch-site": "same-origin"}]
)
def test_either_sign_of_our_own_page_is_enough(patient, headers):
    assert patient.post("/sign-out", headers=headers, follow=False).status_code == 303


@pytest.mark.parametrize("host", ["elsewhere.example", "127.0.0.1.elsewhere.example", ""])
def test_another_host_finds_nothing(nobody, host):
    assert nobody.get("/sign-in", headers={"host": host}).status_code == 421


def test_every_answer_says_what_a_browser_may_do(nobody, patient):
    policies = set()
    for browser, path in ((nobody, "/sign-in"), (nobody, "/no-such-page"), (patient, "/consent"), (nobody, "/health")):
        headers = browser.get(path).headers
        policy = headers["content-security-policy"]
        policies.add(policy)
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "form-action 'self'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"
        assert headers["cache-control"] == "no-store"
        # nobody said that this clinic is reached by TLS
        assert "strict-transport-security" not in headers
    # a nonce of each answer's own
    assert len(policies) == 4


def test_style_can_be_kept_since_its_address_changes_with_it(nobody):
    page_text = nobody.get("/sign-in").text
    address = page_text.split('rel="stylesheet" href="')[1].split('"')[0]
    answer = nobody.get(address)
    assert answer.headers["content-type"].startswith("text/css")
    assert "immutable" in answer.headers["cache-control"]
    assert nobody.get("/static/guards.py").status_code == 404


def test_a_form_that_is_too_large_is_not_read(nobody):
    answer = nobody.post("/sign-in", {"name": "a" * 300_000, "passphrase": ""})
    assert answer.status_code == 413
    assert "too much at once" in answer.text


def test_nor_is_one_that_does_not_say_how_large_it_is(nobody):
    async def endless():
        for _ in range(40):
            yield b"a" * 10_000

    answer = nobody.ask(
        "POST", "/sign-in", content=endless(), headers={"content-type": "application/x-www-form-urlencoded"}
    )
    assert answer.status_code == 413


def test_files_are_taken_by_no_page_that_asks_for_none(nobody):
    answer = nobody.ask("POST", "/sign-in", files={"name": ("a.csv", b"1")})
    assert answer.status_code == 400


def test_a_report_runs_its_own_scripts_and_no_others():
    policy = report_policy("<script>let a = 1;</script><p>x</p><script type='text/plain'>b</script>")
    # of the standard's own example: base64 of SHA-256 of the text between the tags
    assert "'sha256-" in policy
    assert policy.count("'sha256-") == 2
    assert "script-src 'none'" in report_policy("<p>nothing</p>")
    scripts = policy.split("script-src")[1].split(";")[0]
    assert "unsafe-inline" not in scripts


def test_a_page_that_breaks_says_so_and_logs_no_words_of_anybody(nobody, caplog, monkeypatch):
    def broken(request, permitted):
        raise RuntimeError("what a patient wrote")

    route = next(each for each in ROUTES if each.path == "/health")
    monkeypatch.setattr("imu_rom.clinic.web.routes.ROUTES", [])
    made = page("/breaks", who="anyone")(broken)
    from imu_rom.clinic.web import application, routes

    assert made is broken
    assert route.path == "/health"
    service = nobody.application.application.application.state.service
    caplog.set_level(logging.INFO, "imu_rom.clinic")
    browser = type(nobody)(application.create_application(service))
    assert [each.path for each in routes.ROUTES] == ["/breaks"]
    answer = browser.get("/breaks")
    assert answer.status_code == 500
    assert "It is not your fault" in answer.text
    assert "what a patient wrote" not in answer.text + caplog.text
    line = json.loads(next(each for each in caplog.messages if '"broken"' in each))
    assert line["kind"] == "RuntimeError"
    assert line["where"].endswith(f":{broken.__code__.co_firstlineno + 1}")


def test_the_log_holds_no_token(nobody, caplog):
    caplog.set_level(logging.INFO, "imu_rom.clinic")
    nobody.get("/invitation/a-secret-token?next=another-secret")
    lines = [json.loads(each) for each in caplog.messages]
    assert lines[-1]["route"] == "/invitation/{token}"
    assert lines[-1]["status"] == 404
    assert "secret" not in caplog.text


def test_a_page_without_an_owner_for_its_ids_can_not_be_made():
    with pytest.raises(ValueError, match="other_id has no owner"):
        page("/others/{other_id}", who="clinician")
    with pytest.raises(ValueError, match="has no owner"):
        page("/open/{recording_id}", who="anyone")


def test_a_cut_connection_breaks_nothing(application):
    sent = []

    async def receive():
        return {"type": "http.disconnect"}

    async def send(message):
        sent.append(message)

    headers = [
        (b"host", b"127.0.0.1:8000"),
        (b"sec-fetch-site", b"same-origin"),
        (b"content-type", b"application/x-www-form-urlencoded"),
        (b"content-length", b"10"),
    ]
    scope = {
        "type": "http",
        "method": "POST",
        "path": "/sign-in",
        "raw_path": b"/sign-in",
        "query_string": b"",
        "headers": headers,
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 8000),
        "scheme": "http",
        "http_version": "1.1",
        "root_path": "",
    }
    asyncio.run(application(scope, receive, send))
    assert all(each.get("status") in {None, 400} for each in sent)
