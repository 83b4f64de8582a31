"""A log-in that is set up lets nobody past without it; where none is, nothing changes; drafts stay with their own."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest
import streamlit as st

from screens import draft_keeping, login
from tests.trust.running_app import running_app
from tests.trust.session_client import Run, SessionClient

SECRETS = """[auth]
redirect_uri = "https://washcase.plant.invalid/oauth2callback"
cookie_secret = "a secret of this test only"
client_id = "washcase"
client_secret = "another secret of this test"
server_metadata_url = "https://login.plant.invalid/.well-known/openid-configuration"
"""


def screens_of(folder: Path, secrets: str | None) -> tuple[Run, list[Run], dict[str, str]]:
    """Start a server with such a secrets file; open its first screen, then every other one it names."""
    file = folder / "secrets.toml"
    if secrets is not None:
        file.write_text(secrets, encoding="utf-8")

    async def look(stream: str) -> tuple[Run, list[Run], dict[str, str]]:
        client = await SessionClient.open(stream)
        try:
            first = await client.visit()
            others = [await client.visit(title) for title in ("Plant & boards", "Machines") if title in client.pages]
            return first, others, client.pages
        finally:
            await client.close()

    with running_app(folder, "--secrets.files", str(file)) as app:
        return asyncio.run(look(app.stream))


def test_without_a_log_in_set_up_every_screen_opens_and_nothing_speaks_of_it(tmp_path: Path) -> None:
    first, others, pages = screens_of(tmp_path, None)
    assert len(pages) > 10
    assert len(others) == 2
    for run in (first, *others):
        assert run.exceptions() == []
        assert not [one for one in run.of_kind("button") if one.label in ("Log in", "Log out")]


def test_secrets_without_auth_change_nothing_either(tmp_path: Path) -> None:
    first, _, pages = screens_of(tmp_path, 'other = "value"\n')
    assert len(pages) > 10
    assert "Quick answer" in first.text()


def test_with_a_log_in_set_up_nothing_is_drawn_before_it(tmp_path: Path) -> None:
    first, _, pages = screens_of(tmp_path, SECRETS)
    assert pages == {}, "not even the names of the screens"
    assert [one.label for one in first.of_kind("button")] == ["Log in"]
    assert first.text() == "Washcase\nThis server asks for your company's log-in."
    assert b"plant" not in b"".join(one.SerializeToString() for one in first.elements).replace(b"company", b"").lower()


def test_a_broken_secrets_file_lets_nobody_in(tmp_path: Path) -> None:
    first, _, pages = screens_of(tmp_path, "[auth\nredirect_uri = ")
    assert pages == {}
    assert "nobody is let in" in first.text()


class Person(dict):  # type: ignore[type-arg]
    @property
    def is_logged_in(self) -> bool:
        return bool(self)


@pytest.fixture
def logged_in(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):  # type: ignore[no-untyped-def]
    from catalog_schema import drafts

    monkeypatch.setattr(drafts, "user_state_path", lambda *_, **__: tmp_path)
    monkeypatch.setattr(login, "is_required", lambda: True)

    def become(**claims: str) -> None:
        monkeypatch.setattr(st, "user", Person(claims))

    return become


def test_drafts_are_offered_to_the_person_who_left_them_only(logged_in, demo_case) -> None:  # type: ignore[no-untyped-def]
    logged_in(iss="https://login.plant.invalid", sub="ada", name="Same Name")
    assert draft_keeping.keep(demo_case, draft_keeping.Origin(), True) == ""
    assert len(draft_keeping.offered()) == 1
    for claims in ({"sub": "ben"}, {"sub": "ada", "iss": "https://elsewhere.invalid"}):
        logged_in(**({"iss": "https://login.plant.invalid", "name": "Same Name"} | claims))
        assert draft_keeping.offered() == ()
    logged_in(name="Same Name")
    assert draft_keeping.offered() == (), "who cannot be told apart is offered nothing"


@pytest.mark.parametrize(
    ("names", "count"),
    [(["127.0.0.1", "localhost"], 1), (["127.0.0.1", "washcase.plant.invalid"], 0), (["*"], 0), ([], 0)],
)
def test_behind_a_proxy_without_log_in_no_draft_is_offered(  # type: ignore[no-untyped-def]
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, demo_case, names: list[str], count: int
) -> None:
    from catalog_schema import drafts

    monkeypatch.setattr(drafts, "user_state_path", lambda *_, **__: tmp_path)
    options = {"server.address": "127.0.0.1", "server.allowedHosts": names}
    monkeypatch.setattr(st, "get_option", options.get)
    assert draft_keeping.keep(demo_case, draft_keeping.Origin(), True) == ""
    assert len(draft_keeping.offered()) == count
