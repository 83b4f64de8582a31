"""The company's log-in, where the server has one set up; where it has none, nothing changes.

It is the framework's own OpenID Connect client, set up in the [auth] part of .streamlit/secrets.toml.
"""

from __future__ import annotations

from pathlib import Path

import streamlit as st


def gate() -> None:
    """Let nobody see anything before the log-in that the server asks for; without one, let everybody pass."""
    if _unreadable():
        # Passing here would open to everyone what was meant to be closed.
        st.error("The server's file with the log-in settings cannot be read, so nobody is let in. "
                 "Whoever runs the server finds the reason in its log.")  # fmt: skip
        st.stop()
    if not is_required():
        return
    if not st.user.is_logged_in:
        st.title("Washcase")
        st.markdown("This server asks for your company's log-in.")
        st.button("Log in", on_click=st.login, type="primary")
        st.stop()
    with st.sidebar:
        st.text(f"Logged in as {st.user.get('name') or st.user.get('email') or 'someone'}")
        st.button("Log out", on_click=st.logout)


def is_required() -> bool:
    """Tell whether the server asks for a log-in."""
    return bool(st.secrets.load_if_toml_exists() and st.secrets.get("auth"))


def user() -> str:
    """Name who is logged in by what the log-in never changes or gives to another; empty without one."""
    if not is_required() or not st.user.is_logged_in:
        return ""
    subject = st.user.get("sub")
    return f"{st.user.get('iss') or ''} {subject}" if subject else ""


def _unreadable() -> bool:
    files = st.get_option("secrets.files") or []
    return any(Path(file).exists() for file in files) and not st.secrets.load_if_toml_exists()
