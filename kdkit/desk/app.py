"""The desk as a program for a server: what every request passes, and what every answer bears."""

from __future__ import annotations

import secrets
import time

import flask
import werkzeug
from werkzeug.exceptions import HTTPException

from kdkit.archive.accounts import accounts
from kdkit.archive.opening import ArchiveFailed
from kdkit.desk import log_pages, pages, sending_pages
from kdkit.desk.guard import Sessions, names_this_desk, same_origin
from kdkit.desk.shared import Desk, cookie_name, keep, page, this_desk

__all__ = ["BODY", "make_app"]

BODY = 16 * 1024
"""Bytes of a request's body; the largest form has a few hundred."""

POLICY = (
    "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)


def make_app(desk: Desk) -> flask.Flask:
    """Return the program that a server runs for a desk."""
    app = flask.Flask("kdkit.desk", static_folder=None, template_folder=None)
    app.config.update(
        MAX_CONTENT_LENGTH=BODY, MAX_FORM_MEMORY_SIZE=BODY, MAX_FORM_PARTS=60, DESK=desk
    )
    app.url_map.strict_slashes = False
    app.before_request(lambda: _admit(desk))
    app.after_request(lambda answer: _headed(desk, answer))
    app.register_error_handler(HTTPException, _refused)
    app.register_error_handler(ArchiveFailed, _archive_failed)
    app.register_error_handler(Exception, _fault)
    app.add_url_rule("/sign-in", view_func=_sign_in, methods=["GET", "POST"])
    app.add_url_rule("/sign-out", view_func=_sign_out, methods=["POST"])
    for module in (pages, sending_pages, log_pages):
        app.register_blueprint(module.PAGES)
    for rule in app.url_map.iter_rules():  # the library adds them by itself
        rule.methods = (rule.methods or set()) - {"HEAD", "OPTIONS"}
    return app


def _admit(desk: Desk) -> flask.Response | None:
    """Let a request in, or answer it."""
    request, given = flask.request, flask.g
    given.account, given.admitted, given.cookie, given.new_cookie = None, False, "", False
    if not names_this_desk(request.headers.get("Host", ""), desk.names, shared=desk.shared):
        flask.abort(421, "this desk is not called by that name")
    if request.method not in ("GET", "POST"):
        flask.abort(405, "only GET and POST are answered")
    given.cookie = request.cookies.get(cookie_name(), "")
    if not 20 <= len(given.cookie) <= 100 or not given.cookie.isascii():
        given.cookie, given.new_cookie = Sessions.new(), True
    given.account = desk.sessions.account(given.cookie)
    if request.method == "POST":
        site = request.headers.get("Sec-Fetch-Site")
        if not same_origin(request.headers.get("Origin"), site, request.host):
            flask.abort(403, "forms are taken from this desk's own pages only")
        if not desk.sessions.is_token(given.cookie, request.form.get("token", "")):
            flask.abort(403, "the page was too old; go back, load it again, and send it again")
    known = accounts(desk.archive)
    if given.account is not None and given.account not in known:
        desk.sessions.sign_out(given.cookie)  # the account was taken away meanwhile
        given.account = None
    given.admitted = given.account is not None or (not known and not desk.shared)
    if given.admitted or request.path in ("/sign-in", "/desk.css"):
        return None
    if request.method == "POST":
        flask.abort(403, "you are signed in no longer")
    answer = flask.redirect("/sign-in", 303)
    assert isinstance(answer, flask.Response)
    return answer


def _headed(desk: Desk, answer: flask.Response) -> flask.Response:
    answer.headers.setdefault("Content-Security-Policy", POLICY)
    answer.headers["X-Content-Type-Options"] = "nosniff"
    answer.headers["X-Frame-Options"] = "DENY"
    answer.headers["Referrer-Policy"] = "same-origin"
    answer.headers["Cross-Origin-Opener-Policy"] = "same-origin"
    answer.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    answer.headers.setdefault("Cache-Control", "no-store")
    if flask.g.get("new_cookie") and answer.status_code < 400:
        keep(answer, cookie_name(), flask.g.cookie)
    return answer


def _refused(fault: HTTPException) -> flask.Response:
    status = fault.code or 500
    if fault.response is not None:
        return flask.Response(status=status)
    said = fault.description or "this cannot be answered"
    if status == 404:
        said = "there is no such page"
    elif status == 413:
        said = "what was sent is too large"
    flask.g.setdefault("account", None)
    flask.g.setdefault("cookie", "")
    return page("refused.html", status, said=said)


def _archive_failed(fault: ArchiveFailed) -> flask.Response:
    return page(
        "refused.html", 503, said=f"the archive said: {fault.problem.message}; {fault.problem.help}"
    )


def _fault(fault: Exception) -> flask.Response:
    mark = secrets.token_hex(4)
    flask.current_app.logger.error("fault %s in the desk", mark, exc_info=fault)
    return page("refused.html", 500, said=f"kdkit failed; its log says how, under {mark}")


def _sign_in() -> werkzeug.Response:
    desk, request = this_desk(), flask.request
    if flask.g.admitted:
        return flask.redirect("/", 303)
    if request.method == "GET":
        return page("sign_in.html", said="", name="")
    name, password = request.form.get("name", ""), request.form.get("password", "")
    began = time.monotonic()
    account, wait = desk.check(name, password, request.remote_addr or "")
    if account is None:
        # A wrong name and a wrong password are told alike and take as long.
        time.sleep(max(0.0, 0.2 - (time.monotonic() - began)))
        said = "That is no name and password that belong together."
        if wait > 0:
            said += f" Wait {wait:.0f} seconds before another try."
        answer = page("sign_in.html", 429 if wait > 0 else 403, name=name[:100], said=said)
        if wait > 0:
            answer.headers["Retry-After"] = str(int(wait) + 1)
        return answer
    desk.sessions.sign_out(flask.g.cookie)
    leads = flask.redirect("/", 303)
    flask.g.new_cookie = False
    keep(leads, cookie_name(), desk.sessions.sign_in(account))
    return leads


def _sign_out() -> werkzeug.Response:
    this_desk().sessions.sign_out(flask.g.cookie)
    flask.g.cookie, flask.g.new_cookie = Sessions.new(), True
    return flask.redirect("/", 303)
