"""People, sessions, tokens and lock-outs."""

from __future__ import annotations

from datetime import datetime

import pytest
from store_kit import NOW, later

from voicereport.store import Store, StoreError
from voicereport.store.values import Role

pytest_plugins = ["store_fixtures"]


def kind_of(caught: pytest.ExceptionInfo[StoreError]) -> str:
    return caught.value.kind


def test_the_first_administrator_is_set_up_once(empty_store: Store) -> None:
    assert not empty_store.people.any()
    ada = empty_store.people.set_up_first("Ada", "Ada Quill", "$hash$", now=NOW)
    assert (ada.login, ada.role, ada.has_password) == ("ada", "administrator", True)
    assert empty_store.people.any()
    with pytest.raises(StoreError, match="is done already") as caught:
        empty_store.people.set_up_first("eve", "Eve", "$hash$", now=NOW)
    assert kind_of(caught) == "conflict"


@pytest.mark.parametrize("role", ["technician", "office", "supervisor", "administrator"])
def test_each_role_can_be_given(empty_store: Store, role: Role) -> None:
    assert empty_store.people.add("x", "X", role, by="ada", now=NOW).role == role


def test_logins_differ_by_more_than_case(store: Store) -> None:
    with pytest.raises(StoreError, match="is taken") as caught:
        store.people.add(" TESS ", "Another", "office", by="ada", now=NOW)
    assert kind_of(caught) == "conflict"
    assert store.people.get("TeSS").name == "Tess Finch"


@pytest.mark.parametrize("login", ["", "  ", "two words", "x" * 101, "tab\there", "turn\u202earound"])
def test_an_unusable_login_is_refused(store: Store, login: str) -> None:
    with pytest.raises(StoreError) as caught:
        store.people.add(login, "N", "office", by="ada", now=NOW)
    assert kind_of(caught) == "refused"


def test_an_unknown_role_is_refused(store: Store) -> None:
    with pytest.raises(StoreError, match="none of technician"):
        store.people.add("x", "X", "owner", by="ada", now=NOW)  # type: ignore[arg-type]


def test_a_password_is_found_only_for_active_people(store: Store) -> None:
    assert store.people.password_hash("ada") == "$hash$"
    assert store.people.password_hash("tess") is None
    assert store.people.password_hash("nobody") is None
    store.people.set_password("tess", "$other$", by="ada", now=NOW)
    assert store.people.password_hash("tess") == "$other$"
    store.people.change("tess", active=False, by="ada", now=NOW)
    assert store.people.password_hash("tess") is None


def test_the_last_administrator_stays(store: Store) -> None:
    for change in ({"active": False}, {"role": "office"}):
        with pytest.raises(StoreError, match="last administrator") as caught:
            store.people.change("ada", by="ada", now=NOW, **change)
        assert kind_of(caught) == "conflict"
    store.people.change("sue", role="administrator", by="ada", now=NOW)
    assert store.people.change("ada", role="office", by="sue", now=NOW).role == "office"


def test_a_session_opens_by_its_secret_until_it_is_over(store: Store) -> None:
    secret, opened = store.people.start_session("tess", now=NOW, lasts_s=3600)
    found = store.people.session(secret, now=later(3599))
    assert found is not None
    assert (found.person.login, found.csrf) == ("tess", opened.csrf)
    assert store.people.session(secret, now=later(3600)) is None
    assert store.people.session("another secret", now=NOW) is None


def test_an_idle_session_is_over(store: Store) -> None:
    secret, _ = store.people.start_session("tess", now=NOW)
    assert store.people.session(secret, now=later(500), idle_s=600)
    assert store.people.session(secret, now=later(1000), idle_s=600)
    assert store.people.session(secret, now=later(1601), idle_s=600) is None


def test_sessions_end(store: Store) -> None:
    first, _ = store.people.start_session("tess", now=NOW)
    second, _ = store.people.start_session("tess", now=NOW)
    store.people.end_session(first)
    store.people.end_session(first)
    assert store.people.session(first, now=NOW) is None
    assert store.people.session(second, now=NOW) is not None
    store.people.end_sessions("tess")
    assert store.people.session(second, now=NOW) is None


def test_another_password_ends_the_other_sessions(store: Store) -> None:
    mine, _ = store.people.start_session("tess", now=NOW)
    other, _ = store.people.start_session("tess", now=NOW)
    store.people.set_password("tess", "$new$", by="tess", now=NOW, keep=mine)
    assert store.people.session(mine, now=NOW) is not None
    assert store.people.session(other, now=NOW) is None


def test_somebody_who_left_has_no_session_and_no_token(store: Store) -> None:
    secret, _ = store.people.start_session("tess", now=NOW)
    token, _ = store.people.make_token("tess", "van", by="tess", now=NOW)
    store.people.change("tess", active=False, by="ada", now=NOW)
    assert store.people.session(secret, now=NOW) is None
    assert store.people.token_person(token, now=NOW) is None
    with pytest.raises(StoreError, match="not active"):
        store.people.start_session("tess", now=NOW)


def test_secrets_are_not_in_the_database(sqlite_store: Store) -> None:
    secret, _ = sqlite_store.people.start_session("tess", now=NOW)
    token, _ = sqlite_store.people.make_token("tess", "van", by="tess", now=NOW)
    sqlite_store.close()
    kept = b"".join(path.read_bytes() for path in sqlite_store.files.folder.iterdir() if path.is_file())
    assert b"Tess Finch" in kept
    assert secret.encode() not in kept
    assert token.encode() not in kept


def test_wrong_passwords_lock_out_for_a_while(store: Store) -> None:
    for n in range(4):
        person = store.people.note_failure("tess", now=later(n))
        assert person is not None
        assert (person.failures, person.locked_until) == (n + 1, None)
    person = store.people.note_failure("tess", now=later(4), lock_s=900)
    assert person is not None
    assert person.locked_until == later(904)
    store.people.note_success("tess", now=later(905))
    assert store.people.get("tess").locked_until is None
    assert store.people.note_failure("nobody", now=NOW) is None


def test_a_success_forgets_the_failures(store: Store) -> None:
    for _ in range(4):
        store.people.note_failure("tess", now=NOW)
    store.people.note_success("tess", now=NOW)
    person = store.people.note_failure("tess", now=NOW)
    assert person is not None
    assert person.failures == 1


def test_a_token_works_until_it_is_revoked_or_over(store: Store) -> None:
    secret, made = store.people.make_token("tess", "van", by="tess", now=NOW, expires_at=later(3600))
    person = store.people.token_person(secret, now=later(10))
    assert person is not None
    assert person.login == "tess"
    assert store.people.tokens("tess")[0].used_at == later(10)
    assert store.people.token_person(secret, now=later(3600)) is None
    store.people.revoke_token(made.id, by="ada", now=later(20))
    assert store.people.token_person(secret, now=later(30)) is None
    assert store.people.tokens("tess")[0].revoked_at == later(20)


def test_a_time_without_zone_is_refused(store: Store) -> None:
    with pytest.raises(StoreError, match="without zone"):
        store.people.add("x", "X", "office", by="ada", now=datetime(2026, 3, 2))


def test_people_are_listed_by_login(store: Store) -> None:
    store.people.change("theo", active=False, by="ada", now=NOW)
    assert [p.login for p in store.people.list()] == ["ada", "otto", "sue", "tess", "theo"]
    assert [p.login for p in store.people.list(active_only=True)] == ["ada", "otto", "sue", "tess"]
