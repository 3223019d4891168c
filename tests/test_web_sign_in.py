"""Set-up, sign-in, lock-out, sessions, passwords, tokens; and the headers that every answer bears."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from web_site import PASSWORD, Browser, Site, hidden, running, sample

from voicereport.settings import load_settings
from voicereport.store import open_store
from voicereport.web import create_app
from voicereport.web.limits import RateLimit
from voicereport.web.options import WebOptions
from voicereport.web.roles import RIGHTS, ROLES, may


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    with running(tmp_path) as made:
        yield made


def test_the_first_administrator_is_set_up_once(tmp_path: Path) -> None:
    store = open_store(f"sqlite:///{tmp_path / 'store.db'}", tmp_path)
    from starlette.testclient import TestClient

    client = TestClient(create_app(load_settings(environment={}), store, WebOptions()), base_url="http://127.0.0.1",
                        follow_redirects=False)  # fmt: skip
    assert client.get("/").headers["location"] == "/setup"
    assert client.get("/jobs").headers["location"] == "/setup"
    form = {"login": "Ada", "name": "Ada V", "password": "short", "again": "short"}
    token = hidden(client.get("/setup").text, "token")
    assert client.post("/setup", data=form).status_code == 403  # without its token
    assert client.post("/setup", data={**form, "token": token}).status_code == 422
    assert not store.people.any()
    good = {**form, "token": token, "password": PASSWORD, "again": PASSWORD}
    assert client.post("/setup", data=good).status_code == 303
    assert [(p.login, p.role) for p in store.people.list()] == [("ada", "administrator")]
    assert client.get("/people").status_code == 200  # signed in at once
    assert client.get("/setup").headers["location"] == "/signin"
    client.cookies.set("voicereport-form", token)
    assert client.post("/setup", data={**good, "login": "eve"}).headers["location"] == "/signin"
    assert len(store.people.list()) == 1
    store.close()


@pytest.mark.parametrize(
    "password",
    ["short", "x" * 300, "aaaaaaaaaaaaaaaa", "my name is ada indeed"],
    ids=["short", "long", "plain", "login"],
)
def test_poor_passwords_are_refused(password: str) -> None:
    from voicereport.web import passwords

    assert passwords.fault(password, password, "ada") is not None
    assert passwords.fault(PASSWORD, PASSWORD, "ada") is None
    assert passwords.fault(PASSWORD, PASSWORD + "x", "ada") == "differ"


def test_signing_in_and_out(site: Site) -> None:
    browser = site.role("office")
    assert browser.get("/jobs").status_code == 200
    cookie = next(c for c in browser.client.cookies.jar if c.name == "voicereport")
    assert cookie.has_nonstandard_attr("HttpOnly")
    assert cookie.get_nonstandard_attr("SameSite", "").lower() == "lax"
    secret = cookie.value
    assert browser.post("/signout").headers["location"] == "/signin"
    assert browser.get("/jobs").status_code == 303
    stale = site.client()
    stale.cookies.set("voicereport", secret or "")
    assert stale.get("/jobs").status_code == 303  # the secret itself no longer counts


def test_wrong_names_and_wrong_passwords_read_the_same(site: Site) -> None:
    told = []
    for login in ("otto", "nobody"):
        browser = Browser(client=site.client())
        answer = browser.sign_in(login, "not the password at all")
        assert answer.status_code == 401
        told.append(answer.text.replace(login, "").replace(hidden(answer.text, "token"), ""))
    assert told[0] == told[1]


def test_an_account_is_locked_after_wrong_passwords_and_opens_again(site: Site) -> None:
    for _ in range(5):
        assert Browser(client=site.client()).sign_in("otto", "wrong").status_code == 401
    assert Browser(client=site.client()).sign_in("otto").status_code == 401  # the right one, while locked
    site.later(seconds=901)
    assert Browser(client=site.client()).sign_in("otto").status_code == 303


def test_sign_ins_from_one_address_are_limited(tmp_path: Path) -> None:
    with running(tmp_path, sign_ins_a_minute=3) as site:
        seen = [Browser(client=site.client()).sign_in("nobody", "x").status_code for _ in range(5)]
    assert seen == [401, 401, 401, 429, 429]


def test_sessions_end_when_idle_and_in_any_case(site: Site) -> None:
    browser = site.role("office")
    site.later(hours=7)
    assert browser.get("/jobs").status_code == 200
    site.later(hours=9)
    assert browser.get("/jobs").status_code == 303


def test_a_password_change_ends_the_other_sessions(site: Site) -> None:
    one, other = site.role("office"), site.role("office")
    fresh = "harbour kettle marmalade"
    assert one.post("/me/password", {"old": "no", "password": fresh, "again": fresh}).status_code == 422
    done = one.post("/me/password", {"old": PASSWORD, "password": fresh, "again": fresh})
    assert done.status_code == 303
    assert one.get("/jobs").status_code == 200
    assert other.get("/jobs").status_code == 303
    assert Browser(client=site.client()).sign_in("otto").status_code == 401
    assert Browser(client=site.client()).sign_in("otto", fresh).status_code == 303


def test_tokens_work_until_they_are_ended(site: Site) -> None:
    browser = site.role("office")
    page = browser.post("/me/tokens", {"name": "books", "days": "90"}).text
    secret = page.split('class="secret">')[1].split("<")[0]
    client = site.client()
    header = {"authorization": f"Bearer {secret}"}
    assert client.get("/api/v1/me", headers=header).json() == {"login": "otto", "name": "Otto Farrowby",
                                                               "role": "office"}  # fmt: skip
    assert secret not in browser.get("/me").text
    number = site.store.people.tokens("otto")[0].id
    assert site.role("supervisor").post(f"/me/tokens/{number}/revoke").status_code == 303  # not theirs: nothing happens
    assert client.get("/api/v1/me", headers=header).status_code == 200
    browser.post(f"/me/tokens/{number}/revoke")
    assert client.get("/api/v1/me", headers=header).status_code == 401
    page = browser.post("/me/tokens", {"name": "books", "days": "90"}).text
    header = {"authorization": f"Bearer {page.split('class=' + chr(34) + 'secret' + chr(34) + '>')[1].split('<')[0]}"}
    site.later(days=91)
    assert client.get("/api/v1/me", headers=header).status_code == 401


def test_the_administrator_adds_changes_and_locks_out_people(site: Site) -> None:
    ada = site.role("administrator")
    page = ada.post("/people", {"login": "Finn", "name": "Finn Oakhollow", "role": "technician"}).text
    password = page.split('class="secret">')[1].split("<")[0]
    assert password not in ada.get("/people").text
    finn = Browser(client=site.client())
    assert finn.sign_in("finn", password).status_code == 303
    assert finn.get("/search").status_code == 403
    ada.post("/people/finn", {"name": "Finn Oakhollow", "role": "office", "active": "yes"})
    assert finn.get("/search").status_code == 200  # a role counts at once
    ada.post("/people/finn", {"name": "Finn Oakhollow", "role": "office"})
    assert finn.get("/search").status_code == 303  # and so does being shut out
    answer = ada.post("/people/ada", {"name": "Ada", "role": "office", "active": "yes"})
    assert answer.status_code == 409  # the last administrator cannot go
    assert ada.post("/people", {"login": "finn", "name": "Another", "role": "office"}).status_code == 422


def test_every_answer_bears_its_headers(site: Site) -> None:
    browser = site.role("office")
    job = site.job(sample("freezer"))
    for path in ("/jobs", f"/jobs/{job.id}", "/nothing", "/api/v1/jobs", f"/jobs/{job.id}/preview.html"):
        headers = browser.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == "no-store"
    assert "script-src 'self'" in browser.get("/jobs").headers["content-security-policy"]
    assert "script-src" not in browser.get(f"/jobs/{job.id}/preview.html").headers["content-security-policy"]


def test_no_page_has_inline_script_or_style(site: Site) -> None:
    browser = site.role("administrator")
    job = site.job(sample("freezer"))
    for path in ("/jobs", f"/jobs/{job.id}", "/people", "/company", "/oversight", "/search?words=fan", "/me", "/trail",
                 f"/jobs/{job.id}/doubts", f"/jobs/{job.id}/customer", "/jobs/new"):  # fmt: skip
        text = browser.get(path).text
        assert " style=" not in text, path
        assert "<style" not in text, path
        assert " on" + "click" not in text, path
        assert all(part.startswith((" src=",)) for part in text.split("<script")[1:]), path


@pytest.mark.parametrize(
    ("headers", "status"),
    [({"host": "evil.example"}, 421), ({"origin": "http://evil.example"}, 403), ({"sec-fetch-site": "cross-site"}, 403),
     ({"content-length": "99999999"}, 413), ({"origin": "http://127.0.0.1"}, 303)],
    ids=["host", "origin", "fetch", "size", "own"],
)  # fmt: skip
def test_the_guard(site: Site, headers: dict[str, str], status: int) -> None:
    browser = site.role("office")
    assert browser.post("/signout", headers=headers).status_code == status


def test_a_fault_is_told_without_what_was_said(site: Site, caplog: pytest.LogCaptureFixture) -> None:
    browser = site.role("office")

    def broken(*_: object, **__: object) -> None:
        raise ValueError("spoken words")

    site.store.jobs.page = broken  # type: ignore[method-assign]
    answer = browser.get("/jobs")
    assert answer.status_code == 500
    assert "spoken words" not in answer.text
    assert "spoken words" not in caplog.text
    assert "ValueError" in caplog.text


def test_too_many_requests_are_told_so(tmp_path: Path) -> None:
    with running(tmp_path, requests_a_minute=5) as site:
        client = site.client()
        seen = [client.get("/signin").status_code for _ in range(8)]
    assert seen == [200] * 5 + [429] * 3


def test_a_rate_limit_refills() -> None:
    now = [0.0]
    limit = RateLimit(2, clock=lambda: now[0])
    assert [limit.allow("a") for _ in range(3)] == [True, True, False]
    assert limit.allow("b")
    now[0] = 30.0  # half a minute gives one of two a minute
    assert [limit.allow("a") for _ in range(2)] == [True, False]


def test_static_files_may_be_kept_and_go_by_their_digest(site: Site) -> None:
    import re

    address = re.search(r'href="(/static/[0-9a-f]{16}/style.css)"', site.client().get("/signin").text)
    assert address is not None
    answer = site.client().get(address[1])
    assert "immutable" in answer.headers["cache-control"]
    assert site.client().get(re.sub("[0-9a-f]{16}", "0" * 16, address[1])).status_code == 404
    assert site.client().get(address[1].replace("style.css", "../app.py")).status_code == 404


def test_the_way_back_leads_nowhere_else(site: Site) -> None:
    from voicereport.web.answers import safe_path

    for wanted in ("//evil.example", "https://evil.example", "/\\evil.example", "javascript:alert(1)", "/a\r\nb"):
        assert safe_path(wanted) == "/"
    assert safe_path("/jobs/3") == "/jobs/3"


def test_the_table_of_rights_knows_every_role() -> None:
    assert set(RIGHTS) == set(ROLES)
    assert not may("stranger", "see_jobs")
    assert not may("technician", "see_jobs")
    assert [role for role in ROLES if may(role, "people")] == ["administrator"]
