"""Every form of a clinic's service, filled in with whatever may come.

The forms are read off the pages themselves, so that a new one is fuzzed without being named here. What is asked of each
answer: no page breaks, nothing that was written becomes part of a page, and the trail still verifies.
"""

import asyncio
import logging
import re
import shutil
from dataclasses import replace
from html.parser import HTMLParser
from urllib.parse import urlencode

import httpx
from hypothesis import strategies as st
from walked_clinic import ADDRESS, COOKIE, HOSTILE, OUR_OWN, SHUT, behind_tls, furnished, token_for

from imu_rom.clinic.audit import verify
from imu_rom.clinic.configuration import read_configuration
from imu_rom.clinic.database import open_database
from imu_rom.clinic.service import open_service
from imu_rom.clinic.web.application import create_application
from imu_rom.clinic.web.routes import ROUTES

NO_OBJECT = {"token": "no-such-token", "name": "style.css"}
# whoever is signed out sees no page any more
LEFT_ALONE = {"/sign-out"}
ODD = (
    "",
    " ",
    "0",
    "-1",
    "1e999",
    "nan",
    "0x10",
    "٣",
    "9" * 400,
    "2026-12-01",
    "2026-02-30",
    "0001-01-01",
    "9999-12-31",
    "2026-12-01T10:00:00+25:00",
    "24:00",
    "../../secret.key",
    "\0",
    "\ud800",
    "\u202e",
    "a" * 70_000,
    "[" * 3_000,
    '{"a": ' * 3_000,
    "[plan]\nformat = 1\n",
    "yes",
    "none",
    HOSTILE,
    "'; DROP TABLE patients; --",
    "progress:",
    "0" * 32,
)


class Forms(HTMLParser):
    """The forms of a page: method, action, whether files go with it, and its fields."""

    def __init__(self):
        super().__init__()
        self.found = []
        self.inside = False

    def handle_starttag(self, tag, attributes):
        given = dict(attributes)
        if tag == "form":
            self.found.append((given.get("method", "get").upper(), given.get("action") or "", []))
            self.inside = True
        elif self.inside and given.get("name"):
            self.found[-1][2].append((given["name"], given.get("value") or ""))

    def handle_endtag(self, tag):
        if tag == "form":
            self.inside = False


class FuzzedClinic:
    """A clinic that is as it was before each round.

    Parameters
    ----------
    folder : Path
        For its home.
    clock : Clock
        Tells the time.
    """

    def __init__(self, folder, clock):
        self.home = folder / "home"
        self.kept = folder / "as it was.sqlite"
        self.service = None
        self.trouble = []
        made = open_service(read_configuration(self.home, {}), clock)
        self.here = furnished(behind_tls(made), "Park")
        self.tokens = {
            "clinician": token_for(made, self.here.clinician.user_id),
            "patient": token_for(made, self.here.account.user_id),
            "nobody": None,
        }
        made.database.close()
        shutil.copy(self.home / "clinic.sqlite", self.kept)
        self.as_it_was = behind_tls(made)
        self.begin()
        self.forms = sorted(self._read_forms())
        # the parser of forms warns of each that is cut off
        logging.getLogger("python_multipart").setLevel(logging.CRITICAL)
        logging.getLogger("imu_rom.clinic").addHandler(_Listens(self.trouble))

    def begin(self):
        """Have everything as it was."""
        if self.service is not None:
            self.service.database.close()
        for each in ("-wal", "-shm"):
            (self.home / f"clinic.sqlite{each}").unlink(missing_ok=True)
        shutil.copy(self.kept, self.home / "clinic.sqlite")
        opened = open_database(self.as_it_was.configuration.database_url)
        self.service = replace(self.as_it_was, database=opened)
        self.application = create_application(self.service)

    def _read_forms(self):
        found = set()
        for role, token in self.tokens.items():
            for route in ROUTES:
                if route.method != "GET":
                    if route.path not in LEFT_ALONE:
                        found.add((role, "POST", self.path(route.path), (("text", ""), ("reason", ""))))
                    continue
                path = self.path(route.path)
                answer = self.asks("GET", path, token)
                if answer.status_code == 200 and answer.headers["content-type"].startswith("text/html"):
                    parser = Forms()
                    parser.feed(answer.text)
                    for method, action, fields in parser.found:
                        if action not in LEFT_ALONE:
                            found.add((role, method, action or path, tuple(fields)))
        return found

    def path(self, pattern):
        return re.sub(r"\{(\w+)\}", lambda match: (NO_OBJECT | self.here.ids)[match[1]], pattern)

    def asks(self, method, path, token, content=b"", kind=""):
        async def ask():
            transport = httpx.ASGITransport(self.application)
            async with httpx.AsyncClient(transport=transport, base_url=ADDRESS) as client:
                own = dict(OUR_OWN) if method == "POST" else {}
                own |= {} if token is None else {"cookie": f"{COOKIE}={token}"}
                own |= {"content-type": kind} if kind else {}
                return await client.request(method, path, headers=own, content=content)

        return asyncio.run(ask())

    def fill_in(self, form, fields, how):
        """Send a form, and look at the answer."""
        role, method, action, _ = form
        self.trouble.clear()
        if method == "GET":
            path, content, kind = f"{action.partition('?')[0]}?{encoded(fields)}", b"", ""
        else:
            path, (content, kind) = action, body_of(fields, how)
        answer = self.asks(method, path, self.tokens[role], content, kind)
        assert answer.status_code < 500, (form, fields, how, answer.status_code, self.trouble)
        assert self.trouble == [], (form, fields, how, self.trouble)
        if answer.headers.get("content-type", "").startswith("text/html"):
            assert f"<{SHUT}" not in answer.text, (form, fields, how)
        return answer

    def holds(self):
        """Say whether the trail verifies."""
        with self.service.database.reading() as connection:
            verify(connection)

    def close(self):
        self.service.database.close()


class _Listens(logging.Handler):
    def __init__(self, trouble):
        super().__init__()
        self.trouble = trouble

    def emit(self, record):
        if '"broken"' in record.getMessage():
            self.trouble.append(record.getMessage())


def encoded(fields):
    return urlencode([(name, value.encode("utf-8", "surrogatepass")) for name, value in fields])


def body_of(fields, how):
    """Content and kind of a form as a browser would send it, or nearly."""
    if how == "urlencoded":
        return encoded(fields).encode(), "application/x-www-form-urlencoded"
    parts = []
    for name, value in fields:
        as_file = '; filename="a.csv"' if name in {"files", "file"} else ""
        label = name.encode("utf-8", "surrogatepass").replace(b'"', b"%22").replace(b"\r", b"").replace(b"\n", b"")
        head = b'--b\r\ncontent-disposition: form-data; name="' + label + b'"' + as_file.encode()
        parts.append(head + b"\r\n\r\n" + value.encode("utf-8", "surrogatepass") + b"\r\n")
    whole = b"".join([*parts, b"--b--\r\n"])
    if how == "cut":
        return whole[: len(whole) * 2 // 3], "multipart/form-data; boundary=b"
    if how == "another boundary":
        return whole, "multipart/form-data; boundary=c"
    if how == "no kind":
        return whole, "text/plain"
    return whole, "multipart/form-data; boundary=b"


VALUES = st.one_of(st.sampled_from(ODD), st.text(max_size=40), st.from_regex(r"[-+]?[0-9]{1,4}([.,][0-9]{1,3})?"))
HOW = st.sampled_from(["urlencoded", "urlencoded", "multipart", "multipart", "cut", "another boundary", "no kind"])


@st.composite
def filled(draw, forms):
    """A form of these and what is sent: its own fields with some changed, left out, doubled or put in."""
    form = draw(st.sampled_from(forms))
    fields = []
    ways = draw(st.sampled_from([["changed"], ["as it is"] * 4 + ["changed"] * 2 + ["left out", "twice"]]))
    for name, value in form[3]:
        what = draw(st.sampled_from(ways))
        if what != "left out":
            fields.append((name, draw(VALUES) if what == "changed" else value))
        if what == "twice":
            fields.append((name, draw(VALUES)))
    if draw(st.booleans()):
        fields.append((draw(st.sampled_from(["text", "reason", "files", "file", "marks"]) | st.text(max_size=9)), "x"))
    return form, fields, draw(HOW)
