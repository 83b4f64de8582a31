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


@pytest.fixture(autouse=True)
def checked_charts(monkeypatch):
    """Check every chart that a screen draws against the schema of charts, which the running app leaves out."""
    from screens import tables

    monkeypatch.setattr(tables._Unchecked, "to_dict", lambda self: self._chart.to_dict())
