"""Who may ask what of the desk: names, methods, tokens, passwords, sizes, headers."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kdkit.archive import Archive, open_archive, verify_archive
from kdkit.archive import accounts as kept
from kdkit.archive.accounts import accounts, remove_account, right_password, set_account
from kdkit.desk.guard import Guesses, Sessions, is_loopback, names_this_desk
from kdkit.desk.serving import refuse_address
from kdkit.desk.shared import Desk
from tests.unit.desk.conftest import Caller

PASSWORD = "a few words together"


@pytest.fixture
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let passwords cost little; the rows say with what numbers they were made."""
    monkeypatch.setattr(kept, "_COST", (1 << 10, 8, 1))


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("localhost:8117", 200), ("127.0.0.1", 200), ("127.0.0.1:8117", 200), ("[::1]:8117", 200),
        ("desk.test", 421), ("localhost.evil.test", 421), ("127.0.0.1.evil.test", 421),
        ("192.168.7.20", 421), ("user@localhost", 421), ("localhost/x", 421), ("localhost:x", 421),
        ("[", 421), ("", 421),
    ],
)  # fmt: skip
def test_a_name_that_is_not_the_desks_is_refused(host: str, status: int, caller: Caller) -> None:
    assert caller.get("/", headers={"Host": host}).status_code == status


def test_a_shared_desk_is_called_by_figures_and_by_its_names() -> None:
    assert names_this_desk("192.168.7.20:8117", (), shared=True)
    assert names_this_desk("Desk.Test", ("desk.test",), shared=True)
    assert not names_this_desk("evil.test", ("desk.test",), shared=True)
    assert is_loopback("127.8.0.1")
    assert is_loopback("::1")
    assert not is_loopback("0.0.0.0")


@pytest.mark.parametrize("method", ["PUT", "DELETE", "HEAD", "OPTIONS", "PATCH", "TRACE", "ABC"])
def test_only_get_and_post_are_answered(method: str, caller: Caller) -> None:
    for address in ("/", "/batch/1", "/log/forget"):
        assert caller.client.open(address, method=method).status_code == 405


@pytest.mark.parametrize(
    "address", ["/", "/batch/1", "/log", "/nothing", "/desk.css", "/batch/1/send", "/scale"]
)
def test_every_answer_bears_what_keeps_browsers_safe(address: str, caller: Caller) -> None:
    answer = caller.get(address)
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["X-Frame-Options"] == "DENY"
    assert "<script" not in answer.text
    assert not re.search(r'\bstyle="|\son\w+="', answer.text)
    for cookie in answer.headers.getlist("Set-Cookie"):
        assert "HttpOnly" in cookie
        assert "SameSite=Strict" in cookie


FORMS = ("/batch/1/send", "/batch/1/how?what=part%20B", "/log/forget", "/scale", "/sign-out")


@pytest.mark.parametrize("address", FORMS)
def test_a_form_without_its_token_writes_nothing(
    address: str, caller: Caller, archive: Archive
) -> None:
    before = _rows(archive)
    caller.get("/log")
    token = caller.hidden("token")
    said = {"what": "cam-lock-15", "quantity": "1", "why": "lost", "reference": "1", "scale": "1"}
    for wrong in ({}, {"token": "x"}, {"token": "é"}, {"token": token[:-1] + "g"}):
        assert caller.client.post(address, data={**said, **wrong}).status_code == 403
    for head in ({"Origin": "http://evil.test"}, {"Origin": "null"},
                 {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}):  # fmt: skip
        answer = caller.client.post(address, data={**said, "token": token}, headers=head)
        assert answer.status_code == 403
    other = Caller(caller.client.application.config["DESK"])
    assert other.client.post(address, data={**said, "token": token}).status_code == 403
    assert _rows(archive) == before


def test_what_is_too_large_is_refused(caller: Caller) -> None:
    caller.get("/log")
    token = caller.hidden("token")
    answer = caller.client.post("/log/forget", data={"token": token, "reference": "x" * 20_000})
    assert answer.status_code == 413
    many = {f"f{n}": "1" for n in range(100)}
    parts = {"token": token, **many}
    sent = caller.client.post("/log/forget", data=parts, content_type="multipart/form-data")
    assert sent.status_code == 413


def test_without_accounts_it_answers_this_machine_alone(archive: Archive, cheap: None) -> None:
    assert refuse_address(archive, "127.0.0.1") == ()
    assert refuse_address(archive, "localhost") == ()
    for host in ("0.0.0.0", "192.168.7.20", "::"):
        (problem,) = refuse_address(archive, host)
        assert "kdkit archive account" in problem.help
    set_account(archive, "counter", PASSWORD)
    assert refuse_address(archive, "0.0.0.0") == ()
    assert refuse_address(archive, "desk.test")[0].code == "desk-not-bound"


def test_with_an_account_everybody_signs_in(
    caller: Caller, desk: Desk, archive: Archive, cheap: None
) -> None:
    set_account(archive, "counter", PASSWORD)
    for address in ("/", "/batch/1", "/batch/1/send", "/log", "/slip/1", "/revision/1/file/0"):
        answer = caller.get(address)
        assert (answer.status_code, answer.headers["Location"]) == (303, "/sign-in")
    caller.get("/sign-in")
    assert caller.send("/log/forget", reference="1").status_code == 403
    wrong = caller.send("/sign-in", name="counter", password="not the password")
    nobody = caller.send("/sign-in", name="nobody", password="not the password")
    assert (wrong.status_code, nobody.status_code) == (403, 403)
    strip = re.compile(r'value="[^"]*"')
    assert strip.sub("", wrong.text) == strip.sub("", nobody.text)
    before = [c.value for c in caller.client._cookies.values()]  # type: ignore[union-attr]
    done = caller.send("/sign-in", name="Counter", password=PASSWORD)
    assert (done.status_code, done.headers["Location"]) == (303, "/")
    after = [c.value for c in caller.client._cookies.values()]  # type: ignore[union-attr]
    assert before != after  # a cookie from before signing in is worth nothing after it
    assert "Sign out counter" in caller.get("/").text
    assert caller.send("/sign-out").status_code == 303
    assert caller.get("/").status_code == 303
    caller.get("/sign-in")
    caller.send("/sign-in", name="counter", password=PASSWORD)
    assert caller.get("/").status_code == 200
    remove_account(archive, "counter")
    set_account(archive, "other", PASSWORD)
    assert caller.get("/").status_code == 303  # the account is gone, and with it who used it


def test_guesses_wait_longer_and_longer(caller: Caller, archive: Archive, cheap: None) -> None:
    set_account(archive, "counter", PASSWORD)
    caller.get("/sign-in")
    statuses = [
        caller.send("/sign-in", name="counter", password=f"guess number {n}").status_code
        for n in range(5)
    ]
    assert statuses == [403, 403, 403, 429, 429]
    right = caller.send("/sign-in", name="counter", password=PASSWORD)
    assert right.status_code == 429  # also the right one is not heard meanwhile
    assert int(right.headers["Retry-After"]) >= 1
    now = [0.0]
    guesses = Guesses(lambda: now[0])
    waits = []
    for _ in range(14):
        guesses.was_wrong("a")
        waits.append(guesses.wait("a"))
        now[0] += waits[-1]
    assert waits[:6] == [0, 0, 0, 2, 4, 8]
    assert waits[-1] == 300
    guesses.was_right("a")
    guesses.was_wrong("a")
    assert guesses.wait("a", "b") == 0


def test_a_session_ends_when_idle_and_at_the_days_end() -> None:
    now = [0.0]
    sessions = Sessions(lambda: now[0])
    cookie = sessions.sign_in("counter")
    assert sessions.account(cookie) == "counter"
    now[0] += 7201
    assert sessions.account(cookie) is None
    cookie = sessions.sign_in("counter")
    for _ in range(12):
        now[0] += 3599
        assert sessions.account(cookie) == "counter"
    now[0] += 3599
    assert sessions.account(cookie) is None
    assert sessions.account("x" * 43) is None


def test_passwords_are_kept_as_scrypt_leaves_them(archive: Archive) -> None:
    assert set_account(archive, "Counter", PASSWORD)
    with archive.reading() as connection:
        (secret,) = connection.exec_driver_sql("SELECT secret FROM account").scalars()
    assert secret.startswith("32768,8,3$")
    assert PASSWORD not in secret
    assert right_password(archive, "counter", PASSWORD) == "Counter"
    assert right_password(archive, "counter", PASSWORD + "x") is None
    assert right_password(archive, "nobody", PASSWORD) is None
    assert accounts(archive) == ("Counter",)


def test_what_an_archive_says_is_text_on_a_page(caller: Caller, archive: Archive) -> None:
    evil = '<script>alert(1)</script>"><img src=x onerror=alert(1)>'
    assert "<script" not in caller.get("/", query_string={"q": evil}).text
    assert "<script" not in caller.get("/log", query_string={"product": evil}).text
    assert "<script" not in caller.get("/batch/1/send", query_string={"words": evil}).text
    caller.get("/batch/1/send?what=cam-lock-15")
    sent = caller.send(
        "/batch/1/send?what=cam-lock-15", what="cam-lock-15", quantity="1", why="lost",
        reference=evil,
    )  # fmt: skip
    slip = caller.get(sent.headers["Location"]).text
    assert "&lt;script&gt;" in slip
    assert "<img src=x" not in slip


@pytest.fixture(scope="module")
def fuzzed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Caller, Archive]]:
    import shutil

    from tests.unit.desk.conftest import ISSUED

    folder = tmp_path_factory.mktemp("fuzz")
    shutil.copy(ISSUED, folder / "w.sqlite")
    (folder / "w.sqlite").chmod(0o644)
    archive, _ = open_archive(str(folder / "w.sqlite"))
    assert archive is not None
    yield Caller(Desk(archive=archive, folder=folder)), archive
    archive.close()


ODD = st.one_of(
    st.text(max_size=40),
    st.sampled_from(
        ["", "1", "part B", "part ", "bag 1", "bag", "cam-lock-15", "Peg shelf|A|PG-31|1", "|||",
         "||||||", "%", "_", "\x00", "\ud800", "1,2", "9" * 30, "nan", "inf", "-0", "PG-31",
         "missing", "../../etc/passwd", "Peg shelf ", "revision A", "a b c d e f"]
    ),
)  # fmt: skip
ROUTES = [
    ("GET", "/", ("q",)), ("GET", "/revision/{}", ("bag",)), ("GET", "/batch/{}", ("bag",)),
    ("GET", "/batch/1/file/{}", ("save",)), ("GET", "/batch/1/send", ("what", "words", "with")),
    ("POST", "/batch/1/send", ("what", "quantity", "why", "reference", "with", "once", "batch")),
    ("POST", "/revision/1/send", ("what", "quantity", "why", "reference", "batch")),
    ("GET", "/batch/1/how", ("what",)), ("GET", "/batch/1/sheet/{}", ("what",)),
    ("GET", "/slip/{}", ()), ("GET", "/order/{}", ()), ("GET", "/log", ("product", "forgot")),
    ("POST", "/log/forget", ("reference",)), ("GET", "/scale", ("try",)),
    ("POST", "/scale", ("scale",)), ("GET", "/{}", ()), ("POST", "/{}", ()),
    ("POST", "/sign-in", ("name", "password")),
]  # fmt: skip


@settings(
    max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_no_request_is_a_fault_or_changes_what_is_issued(
    fuzzed: tuple[Caller, Archive], data: st.DataObject
) -> None:
    from urllib.parse import quote

    caller, _ = fuzzed
    method, address, names = data.draw(st.sampled_from(ROUTES))
    if "{}" in address:
        address = address.format(quote(data.draw(ODD), safe="", errors="replace"))
    said = {n: data.draw(ODD).encode("utf-8", "replace").decode() for n in names}
    if method == "GET":
        answer = caller.client.get(address, query_string=said)
    else:
        caller.get("/log")
        with_token = {"token": caller.hidden("token"), **said}
        answer = caller.client.post(address, data=with_token)
    assert answer.status_code in (200, 303, 304, 308, 400, 403, 404, 405, 413), answer.text
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_after_all_that_everything_is_as_it_was_issued(fuzzed: tuple[Caller, Archive]) -> None:
    _, archive = fuzzed
    assert verify_archive(archive) == (2, ())


def _rows(archive: Archive) -> str:
    """Return one sum over every row of every table."""
    with archive.reading() as connection:
        whole = [
            repr(connection.exec_driver_sql(f"SELECT * FROM {table} ORDER BY 1").all())
            for table in ("revision", "batch", "sent", "superseded", "account", "content")
        ]
    return hashlib.sha256("".join(whole).encode()).hexdigest()
