"""What the server lets in and gives out: this machine only, no telemetry, small uploads, no foreign pages, no files.

The framework checks the Host header where a session starts, on the websocket, and not where it serves its own static
files; so a page of another name that is led to this address (DNS rebinding) gets scripts and pictures but no session.
"""

from __future__ import annotations

import asyncio
import http.client
import os
import re
import struct
from collections.abc import Iterator
from pathlib import Path

import pytest
from websockets.asyncio.client import connect
from websockets.exceptions import ConnectionClosedError, InvalidStatus

from tests.trust.running_app import ROOT, RunningApp, running_app
from tests.trust.session_client import SessionClient

FILES_OUTSIDE = {
    "etc/passwd": "root:", "pyproject.toml": "[build-system]", ".streamlit/config.toml": "gatherUsageStats",
    "demo_catalog/mixed_plant.yaml": "washcase_case", "app.py": "import streamlit", "proc/self/environ": "PATH=",
}  # fmt: skip
"""Files that no request may read, each with a piece of its content."""
ROUTES = ("/", "/static/", "/app/static/", "/media/", "/component/x/", "/_stcore/", "/_stcore/bidi-components/x/",
          "/_stcore/upload_file/s/")  # fmt: skip
CLIMBS = ("", "../", "../../../../../../../", "%2e%2e/%2e%2e/%2e%2e/", "..%2f..%2f..%2f..%2f", "%252e%252e%252f",
          "..\\..\\..\\", "..%5c..%5c", "/", "//", "%2f", "....//....//", "file:///", "static/../../../")  # fmt: skip
MOST_UPLOAD_BYTES = 5 * 2**20
BOUNDARY = "part"


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningApp]:
    with running_app(tmp_path_factory.mktemp("server")) as running:
        yield running


def ask(app: RunningApp, method: str, path: str, headers: dict[str, str] | None = None, body: bytes = b"") -> tuple[
    int, dict[str, str], bytes
]:  # fmt: skip
    """Send a request with the path exactly as written; a client library would tidy it up."""
    connection = http.client.HTTPConnection("127.0.0.1", app.port, timeout=30)
    try:
        connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        usual = {"Host": f"127.0.0.1:{app.port}", "Content-Length": str(len(body))}
        for name, value in (usual | (headers or {})).items():
            connection.putheader(name, value)
        connection.endheaders(body)
        answer = connection.getresponse()
        return answer.status, {name.lower(): value for name, value in answer.getheaders()}, answer.read()
    finally:
        connection.close()


def sockets_of(process_id: int) -> list[tuple[str, str, str]]:
    """List a process's TCP sockets as (local address, remote address, state), each address in the kernel's hex."""
    inodes = set()
    for name in os.listdir(f"/proc/{process_id}/fd"):
        try:
            target = os.readlink(f"/proc/{process_id}/fd/{name}")
        except OSError:
            continue
        inodes |= set(re.findall(r"socket:\[(\d+)\]", target))
    rows = []
    for table in ("tcp", "tcp6"):
        for line in Path(f"/proc/{process_id}/net/{table}").read_text("ascii").splitlines()[1:]:
            parts = line.split()
            if parts[9] in inodes:
                rows.append((parts[1], parts[2], parts[3]))
    return rows


def is_loopback(address: str) -> bool:
    number = address.split(":")[0]
    if len(number) == 8:
        return struct.pack("<I", int(number, 16))[0] == 127
    return number in ("00000000000000000000000001000000", "0000000000000000FFFF00000100007F")


def test_listens_on_the_loopback_only(app: RunningApp) -> None:
    listening = [local for local, _, state in sockets_of(app.process.pid) if state == "0A"]
    assert [int(address.split(":")[1], 16) for address in listening] == [app.port]
    assert all(is_loopback(address) for address in listening)


def test_sends_no_telemetry_and_reaches_nobody(app: RunningApp) -> None:
    async def look_around() -> tuple[bool, list[str]]:
        client = await SessionClient.open(app.stream)
        try:
            await client.visit()
            reached = []
            for title in ("Plant & boards", "Machines", "How it computes"):
                await client.visit(title)
                reached += [remote for _, remote, state in sockets_of(app.process.pid) if state != "0A"]
            return client.gathers_usage, reached
        finally:
            await client.close()

    gathers_usage, reached = asyncio.run(look_around())
    assert gathers_usage is False, "the browser is told to send usage statistics"
    assert reached, "the session's own connection must be seen"
    assert all(is_loopback(remote) for remote in reached)


def token_of(app: RunningApp) -> dict[str, str]:
    """Get the token as the page's script does, and give the headers that prove it."""
    cookies = ask(app, "GET", "/_stcore/health")[1]["set-cookie"]
    found = re.search(r"_streamlit_xsrf=([^;]+)", cookies)
    assert found is not None
    token = found.group(1).strip('"')
    return {"Cookie": f"_streamlit_xsrf={token}", "X-Xsrftoken": token}


def upload(app: RunningApp, session: str, content: bytes, headers: dict[str, str], file_name: str = "case.yaml",
           file_id: str = "file-1") -> int:  # fmt: skip
    head = f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="file"; filename="{file_name}"\r\n\r\n'
    body = head.encode() + content + f"\r\n--{BOUNDARY}--\r\n".encode()
    kind = {"Content-Type": f"multipart/form-data; boundary={BOUNDARY}"}
    return ask(app, "PUT", f"/_stcore/upload_file/{session}/{file_id}", headers | kind, body)[0]


def in_a_session(app: RunningApp, act) -> object:  # type: ignore[no-untyped-def]
    """Do something with the id of a live session, in a thread, while its websocket stays open."""

    async def hold() -> object:
        client = await SessionClient.open(app.stream)
        try:
            await client.visit()
            return await asyncio.to_thread(act, client.session_id)
        finally:
            await client.close()

    return asyncio.run(hold())


def test_an_upload_up_to_the_limit_is_taken_and_one_above_is_refused(app: RunningApp) -> None:
    token = token_of(app)

    def act(session: str) -> tuple[int, int]:
        # The frame around the file counts too.
        return (upload(app, session, b"x" * (MOST_UPLOAD_BYTES - 1000), token),
                upload(app, session, b"x" * (MOST_UPLOAD_BYTES + 1), token))  # fmt: skip

    assert in_a_session(app, act) == (204, 413)


def test_an_upload_that_hides_its_length_is_refused_above_the_limit(app: RunningApp) -> None:
    token = token_of(app)

    def act(session: str) -> int:
        connection = http.client.HTTPConnection("127.0.0.1", app.port, timeout=30)
        head = f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="f"; filename="f.yaml"\r\n\r\n'.encode()
        kind = {"Content-Type": f"multipart/form-data; boundary={BOUNDARY}"}
        chunks = iter([head, *[b"x" * 65_536] * (MOST_UPLOAD_BYTES // 65_536 + 20)])
        try:
            path = f"/_stcore/upload_file/{session}/chunked"
            connection.request("PUT", path, chunks, token | kind, encode_chunked=True)
            return connection.getresponse().status
        except (BrokenPipeError, ConnectionResetError):
            return 413  # the server hung up in the middle
        finally:
            connection.close()

    assert in_a_session(app, act) == 413


@pytest.mark.parametrize("forged", ["none", "header only", "cookie only", "of another cookie"])
def test_an_upload_without_the_matching_token_is_refused(app: RunningApp, forged: str) -> None:
    own, other = token_of(app), token_of(app)
    headers = {
        "none": {}, "header only": {"X-Xsrftoken": own["X-Xsrftoken"]}, "cookie only": {"Cookie": own["Cookie"]},
        "of another cookie": {"Cookie": own["Cookie"], "X-Xsrftoken": other["X-Xsrftoken"]},
    }[forged]  # fmt: skip
    assert in_a_session(app, lambda session: upload(app, session, b"name: x", headers)) == 403


def test_an_upload_to_a_session_that_is_not_there_is_refused(app: RunningApp) -> None:
    assert upload(app, "11111111-2222-3333-4444-555555555555", b"name: x", token_of(app)) == 400


@pytest.mark.parametrize("name", ["../../evil-upload.yaml", "/tmp/evil-upload.yaml", "..%2f..%2fevil-upload.yaml"])
def test_an_upload_named_like_a_path_writes_no_file(app: RunningApp, name: str) -> None:
    token = token_of(app)
    assert in_a_session(app, lambda session: upload(app, session, b"name: x", token, file_name=name)) == 204
    assert not files_written(app)


def files_written(app: RunningApp) -> list[Path]:
    around = [ROOT, ROOT.parent, Path("/tmp"), Path("/"), app.log.parent, app.log.parent / "state"]
    return [path for folder in around for path in folder.glob("*evil-upload*")]


@pytest.mark.parametrize("file_id", ["../../evil-upload", "..%2f..%2fevil-upload", "%2fetc%2fpasswd"])
def test_an_upload_address_that_climbs_is_refused(app: RunningApp, file_id: str) -> None:
    token = token_of(app)
    status = in_a_session(app, lambda session: upload(app, session, b"name: x", token, file_id=file_id))
    assert status in (400, 403, 404, 405)
    assert not files_written(app)


def test_an_upload_address_with_backslashes_is_only_a_name_in_memory(app: RunningApp) -> None:
    token = token_of(app)
    in_a_session(app, lambda session: upload(app, session, b"name: x", token, file_id="..%5c..%5cevil-upload"))
    assert not files_written(app)


@pytest.mark.parametrize("route", ROUTES)
def test_no_address_reads_a_file_of_the_machine(app: RunningApp, route: str) -> None:
    for climb in CLIMBS:
        for file, piece in FILES_OUTSIDE.items():
            for path in (f"{route}{climb}{file}", f"{route}{climb}{file.replace('/', '%2f')}"):
                status, _, body = ask(app, "GET", path)
                assert piece.encode() not in body, path
                # What is not there gives the page itself or an error, and never another file.
                assert status >= 400 or b"<title>Streamlit</title>" in body or b"<noscript>" in body, path


@pytest.mark.parametrize("path", ["/_stcore/health", "/_stcore/host-config", "/_stcore/metrics", "/"])
def test_a_foreign_page_may_not_read_an_answer(app: RunningApp, path: str) -> None:
    headers = ask(app, "GET", path, {"Origin": "https://elsewhere.invalid"})[1]
    assert headers.get("access-control-allow-origin") in (None, f"http://127.0.0.1:{app.port}")


def websocket_status(app: RunningApp, origin: str | None = None, host: str | None = None) -> int:
    """Try to start a session; 101 is a welcome."""

    async def attempt() -> int:
        headers = {} if host is None else {"Host": host}
        try:
            async with connect(app.stream, origin=origin, additional_headers=headers, subprotocols=["streamlit"]):
                return 101
        except InvalidStatus as refused:
            return refused.response.status_code

    return asyncio.run(attempt())


def test_a_page_of_this_server_may_start_a_session(app: RunningApp) -> None:
    assert websocket_status(app, origin=app.address) == 101


@pytest.mark.parametrize("origin", ["https://elsewhere.invalid", "http://127.0.0.1.elsewhere.invalid", "null"])
def test_a_foreign_page_may_not_start_a_session(app: RunningApp, origin: str) -> None:
    assert websocket_status(app, origin=origin) == 403


@pytest.mark.parametrize("host", ["elsewhere.invalid", "127.0.0.1.elsewhere.invalid", "user@127.0.0.1"])
def test_a_session_under_a_foreign_name_is_refused(app: RunningApp, host: str) -> None:
    """Stops a foreign name that was led to this address."""
    assert raw_handshake_status(app, host) == 403


def test_a_session_under_a_known_name_is_welcome(app: RunningApp) -> None:
    assert raw_handshake_status(app, f"localhost:{app.port}") == 101


def raw_handshake_status(app: RunningApp, host: str) -> int:
    headers = {
        "Host": host, "Upgrade": "websocket", "Connection": "Upgrade", "Sec-WebSocket-Version": "13",
        "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==", "Origin": f"http://{host}",
    }  # fmt: skip
    connection = http.client.HTTPConnection("127.0.0.1", app.port, timeout=30)
    try:
        connection.putrequest("GET", "/_stcore/stream", skip_host=True)
        for name, value in headers.items():
            connection.putheader(name, value)
        connection.endheaders()
        return connection.getresponse().status
    finally:
        connection.close()


def test_the_wide_open_doors_of_the_framework_are_shut(app: RunningApp) -> None:
    """Static files of one's own, the agent interface and script health pages are off, and errors show no paths."""
    for path in ("/_stcore/agent/run", "/_stcore/script-health-check"):
        status, _, body = ask(app, "POST", path, {"Content-Type": "application/json"}, b"{}")
        assert status >= 400, path
        assert str(ROOT).encode() not in body


def test_a_broken_message_ends_the_session_without_telling_paths(app: RunningApp) -> None:
    got: list[bytes] = []

    async def send_rubbish() -> None:
        async with connect(app.stream, subprotocols=["streamlit"]) as socket:
            await socket.send(b"\xff\xff\xff rubbish")
            while True:
                got.append(await socket.recv(decode=False))

    with pytest.raises(ConnectionClosedError, match="1002"):
        asyncio.run(asyncio.wait_for(send_rubbish(), 30))
    assert str(ROOT).encode() not in b"".join(got)
    assert b"Traceback" not in b"".join(got)
