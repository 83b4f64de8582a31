"""Drafts of simulated sessions go to a folder of the test, never to that of whoever runs it."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def state_folder(tmp_path_factory, monkeypatch):
    """Point the account's state folder to a fresh one."""
    from catalog_schema import drafts

    folder = tmp_path_factory.mktemp("state")
    monkeypatch.setattr(drafts, "user_state_path", lambda *_, **__: folder / "washcase")
    return folder
