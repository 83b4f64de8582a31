"""Nothing leaves the machine: a whole evaluation with every door but the loopback shut."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_catalog" / "through_hole_plant.yaml"

# Loaded by Python itself before anything else of the program.
GUARD = '''
import ipaddress
import socket

def _is_loopback(address):
    if not isinstance(address, tuple):
        return True  # a socket file of this machine
    host = address[0]
    if host in ("localhost", ""):
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False

def _guarded(name):
    real = getattr(socket.socket, name)

    def guarded(self, *arguments):
        address = arguments[-1]
        if not _is_loopback(address):
            raise AssertionError(f"{name} to {address} was tried")
        return real(self, *arguments)

    setattr(socket.socket, name, guarded)

for _name in ("connect", "connect_ex", "sendto"):
    _guarded(_name)

_lookup = socket.getaddrinfo

def _no_lookup(host, *arguments, **options):
    if host not in (None, "", "localhost", "127.0.0.1", "::1"):
        raise AssertionError(f"a look-up of {host} was tried")
    return _lookup(host, *arguments, **options)

socket.getaddrinfo = _no_lookup
for _name in ("gethostbyname", "gethostbyname_ex", "gethostbyaddr"):
    setattr(socket, _name, _no_lookup)
'''


def _guarded_python(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    (folder / "sitecustomize.py").write_text(GUARD, encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": f"{folder}{os.pathsep}{ROOT}", "PYTHONIOENCODING": "utf-8"}
    return subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, env=environment, capture_output=True, encoding="utf-8", check=False,
        timeout=300,
    )  # fmt: skip


def test_the_guard_stops_connections_and_look_ups_and_lets_the_loopback_through(tmp_path: Path) -> None:
    program = """
import socket
server = socket.create_server(("127.0.0.1", 0))
socket.create_connection(server.getsockname()).close()
for act in (
    lambda: socket.create_connection(("192.0.2.1", 80), timeout=1),
    lambda: socket.socket(socket.AF_INET, socket.SOCK_DGRAM).sendto(b"x", ("192.0.2.1", 53)),
    lambda: socket.getaddrinfo("example.invalid", 80),
):
    try:
        act()
    except AssertionError as stopped:
        print(stopped)
"""
    answer = _guarded_python(tmp_path, "-c", program)
    assert answer.stdout.count("was tried") == 3, answer.stdout + answer.stderr


def test_evaluation_of_the_demo_needs_no_network(tmp_path: Path) -> None:
    written = tmp_path / "evaluation.json"
    answer = _guarded_python(
        tmp_path, "-m", "model", "evaluate", str(DEMO), "--draws", "16", "--json", str(written)
    )  # fmt: skip
    assert answer.returncode == 0, answer.stdout[-1000:] + answer.stderr[-3000:]
    assert "was tried" not in answer.stdout + answer.stderr
    assert len(json.loads(written.read_text(encoding="utf-8"))["verdicts"]) >= 10


def test_loading_every_library_of_the_screens_needs_no_network(tmp_path: Path) -> None:
    answer = _guarded_python(tmp_path, "-c", "import streamlit, altair, vl_convert, pint, babel, model.evaluate")
    assert answer.returncode == 0, answer.stderr[-3000:]
