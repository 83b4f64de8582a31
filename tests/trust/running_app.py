"""Starts the app as a person would, on a free port of the loopback, with a state folder of its own."""

from __future__ import annotations

import contextlib
import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
HEALTHY_WITHIN_S = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningApp:
    """An app that answers."""

    port: int
    """Port on the loopback."""
    process: subprocess.Popen[bytes]
    """The server."""
    log: Path
    """What the server wrote."""

    @property
    def address(self) -> str:
        """Give its address for a browser."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def stream(self) -> str:
        """Give the address of its websocket."""
        return f"ws://127.0.0.1:{self.port}/_stcore/stream"

    def _processes(self) -> list[int]:
        """List the server and the processes that compute for it."""
        children = Path(f"/proc/{self.process.pid}/task").glob("*/children")
        return [self.process.pid, *(int(pid) for one in children for pid in one.read_text(encoding="ascii").split())]

    def resident_bytes(self) -> int:
        """Give the memory that the server and the processes that compute for it hold now."""
        total = 0
        for pid in self._processes():
            # A worker may end while it is counted.
            with contextlib.suppress(OSError, StopIteration):
                text = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
                total += 1024 * int(next(line for line in text.splitlines() if line.startswith("VmRSS:")).split()[1])
        return total

    def processor_s(self) -> float:
        """Give the processor time that the server and the processes that compute for it have used."""
        total = 0
        for pid in self._processes():
            with contextlib.suppress(OSError):
                ticks = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
                total += int(ticks[11]) + int(ticks[12])
        return total / os.sysconf("SC_CLK_TCK")

    def errors(self) -> list[str]:
        """List the lines of the log that tell of an error."""
        words = ("Traceback", "Exception", "ERROR", "Error:")
        lines = self.log.read_text(encoding="utf-8", errors="replace").splitlines()
        return [line for line in lines if any(word in line for word in words)]


def free_port() -> int:
    """Give a port of the loopback that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def running_app(folder: Path, *arguments: str) -> Iterator[RunningApp]:
    """Run the app, with its drafts and its log in `folder`, until the block ends."""
    environment = {name: value for name, value in os.environ.items() if name != "WASHCASE_OPEN"}
    environment |= {"XDG_STATE_HOME": str(folder / "state"), "OMP_NUM_THREADS": "1"}
    port, log = free_port(), folder / "server.log"
    command = [sys.executable, "-m", "streamlit", "run", "app.py", "--server.headless", "true", "--server.port",
               str(port), *arguments]  # fmt: skip
    with log.open("wb") as written:
        process = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=written, stderr=written)
    try:
        _wait_until_healthy(process, port, log)
        yield RunningApp(port=port, process=process, log=log)
    finally:
        process.terminate()
        try:
            process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def _wait_until_healthy(process: subprocess.Popen[bytes], port: int, log: Path) -> None:
    end = time.monotonic() + HEALTHY_WITHIN_S
    while time.monotonic() < end:
        if process.poll() is not None:
            raise RuntimeError(f"The app ended with code {process.returncode}: {log.read_text('utf-8', 'replace')}")
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=2):
                return
        except OSError:
            time.sleep(0.1)
    raise RuntimeError(f"The app did not answer within {HEALTHY_WITHIN_S:.0f} s.")
