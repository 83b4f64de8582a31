"""A session without a browser: speaks the framework's own protocol over the websocket, as the page's script does.

It draws nothing, so that what is measured is the server. Every rerun sends the state of all widgets set so far, as a
browser does; what comes back is read to the end of the run.
"""

from __future__ import annotations

import asyncio
import re
import time
import urllib.request
from dataclasses import dataclass, field
from typing import Any

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.proto.WidgetStates_pb2 import WidgetState
from websockets.asyncio.client import ClientConnection, connect

MOST_BYTES = 200 * 2**20


@dataclass(slots=True)
class Run:
    """What one run of the script gave."""

    seconds: float
    """From sending the request to the last message of the run."""
    bytes_read: int = 0
    """Of all messages."""
    elements: list[Any] = field(default_factory=list)
    """Elements in the order in which they were drawn."""
    status: int = -1
    """How the script ended."""

    def of_kind(self, kind: str) -> list[Any]:
        """Give the elements of a kind, such as "slider"."""
        return [getattr(one, kind) for one in self.elements if one.WhichOneof("type") == kind]

    def text(self) -> str:
        """Give all headings and markdown."""
        return "\n".join(
            [one.body for kind in ("heading", "markdown") for one in self.of_kind(kind)]
            + [one.body for one in self.of_kind("alert")]
        )

    def exceptions(self) -> list[str]:
        """Give what an exception box would show."""
        return [f"{one.type}: {one.message}" for one in self.of_kind("exception")]


class SessionClient:
    """One open session."""

    def __init__(self, connection: ClientConnection) -> None:
        """Take over an open connection."""
        self._connection = connection
        self._widgets: dict[str, WidgetState] = {}
        self._known: dict[str, Any] = {}
        self._fragments: dict[str, str] = {}
        self._page_hash = ""
        self.pages: dict[str, str] = {}
        self.session_id = ""
        self.gathers_usage: bool | None = None

    @classmethod
    async def open(cls, stream: str, **options: Any) -> SessionClient:
        """Connect; nothing runs yet."""
        connection = await connect(
            stream, subprotocols=["streamlit"], max_size=MOST_BYTES, ping_interval=None, **options
        )  # fmt: skip
        return cls(connection)

    async def close(self) -> None:
        """Leave, as by closing the tab."""
        await self._connection.close()

    async def visit(self, title: str = "", timeout_s: float = 180.0) -> Run:
        """Run a screen by its title; the first one when empty."""
        if title:
            self._page_hash = self.pages[title]
        return await self.rerun(timeout_s=timeout_s)

    async def press(self, widget_id: str) -> Run:
        """Press a button."""
        state = WidgetState(id=widget_id, trigger_value=True)
        return await self.rerun(state)

    async def slide(self, widget_id: str, value: float) -> Run:
        """Move a slider; where it stands in a fragment only that is run again, as the page's script asks for."""
        self._hold(widget_id, value)
        return await self.rerun(fragment_id=self._fragments.get(widget_id, ""))

    def shown(self, slider: Any) -> float:
        """Give where a slider stands."""
        held = self._widgets.get(slider.id)
        return float(held.double_array_value.data[0] if held is not None else slider.default[0])

    def _hold(self, widget_id: str, value: float) -> None:
        state = WidgetState(id=widget_id)
        state.double_array_value.data.append(value)
        self._widgets[widget_id] = state

    async def write(self, widget_id: str, text: str) -> Run:
        """Fill a text field and leave it."""
        self._widgets[widget_id] = WidgetState(id=widget_id, string_value=text)
        return await self.rerun()

    async def send_file(self, address: str, uploader: Any, name: str, content: bytes) -> Run:
        """Upload a file into a file uploader, as the page's script does."""
        file_id = f"file-{len(self._widgets)}-{len(content)}"
        await asyncio.to_thread(_put_file, f"{address}/_stcore/upload_file/{self.session_id}/{file_id}",
                                address, name, content)  # fmt: skip
        state = WidgetState(id=uploader.id)
        told = state.file_uploader_state_value.uploaded_file_info.add()
        told.file_id, told.name, told.size = file_id, name, len(content)
        told.file_urls.file_id = file_id
        told.file_urls.upload_url = told.file_urls.delete_url = f"/_stcore/upload_file/{self.session_id}/{file_id}"
        self._widgets[uploader.id] = state
        run = await self.rerun()
        self._widgets.pop(uploader.id, None)
        return run

    async def rerun(self, *triggers: WidgetState, timeout_s: float = 180.0, fragment_id: str = "") -> Run:
        """Ask for a run with the widgets as they are, and read until it has ended."""
        message = BackMsg()
        message.rerun_script.page_script_hash = self._page_hash
        message.rerun_script.fragment_id = fragment_id
        message.rerun_script.widget_states.widgets.extend([*self._widgets.values(), *triggers])
        message.rerun_script.cached_message_hashes.extend(self._known)
        started = time.perf_counter()
        await self._connection.send(message.SerializeToString())
        run = Run(seconds=0.0)
        drawn: dict[tuple[int, ...], Any] = {}
        async with asyncio.timeout(timeout_s):
            while run.status < 0:
                await self._read(run, drawn)
        run.seconds = time.perf_counter() - started
        run.elements = list(drawn.values())
        if not fragment_id:
            # A browser forgets what a widget held as soon as it is no longer drawn.
            ids = {getattr(getattr(one, one.WhichOneof("type")), "id", "") for one in run.elements}
            self._widgets = {name: state for name, state in self._widgets.items() if name in ids}
        for slider in run.of_kind("slider"):
            # The server may set a slider; from then on the browser holds that.
            if slider.set_value:
                self._hold(slider.id, slider.value[0])
        return run

    async def _read(self, run: Run, drawn: dict[tuple[int, ...], Any]) -> None:
        raw = await self._connection.recv(decode=False)
        run.bytes_read += len(raw)
        message = ForwardMsg()
        message.ParseFromString(raw)
        kind = message.WhichOneof("type")
        path = tuple(message.metadata.delta_path)
        if kind == "ref_hash":
            drawn[path] = self._known[message.ref_hash]
        elif kind == "delta" and message.delta.WhichOneof("type") == "new_element":
            drawn[path] = message.delta.new_element
            widget_id = getattr(getattr(drawn[path], drawn[path].WhichOneof("type")), "id", "")
            if widget_id:
                self._fragments[widget_id] = message.delta.fragment_id
            if message.metadata.cacheable and message.hash:
                self._known[message.hash] = message.delta.new_element
        elif kind == "new_session":
            # A script may start over before it ends; only the last start counts.
            drawn.clear()
            self.session_id = message.new_session.initialize.session_id or self.session_id
            self.gathers_usage = message.new_session.config.gather_usage_stats
            self._page_hash = self._page_hash or message.new_session.page_script_hash
        elif kind == "navigation":
            self.pages = {page.page_name: page.page_script_hash for page in message.navigation.app_pages}
        elif kind == "script_finished" and message.script_finished != ForwardMsg.FINISHED_EARLY_FOR_RERUN:
            run.status = message.script_finished


def _put_file(url: str, address: str, name: str, content: bytes) -> None:
    with urllib.request.urlopen(f"{address}/_stcore/health", timeout=30) as answer:
        token = re.search(r'_streamlit_xsrf="?([^;"]+)', answer.headers["Set-Cookie"])
    assert token is not None
    body = (f'--part\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n\r\n'.encode() + content
            + b"\r\n--part--\r\n")  # fmt: skip
    request = urllib.request.Request(url, data=body, method="PUT", headers={
        "Content-Type": "multipart/form-data; boundary=part", "X-Xsrftoken": token.group(1),
        "Cookie": f"_streamlit_xsrf={token.group(1)}",
    })  # fmt: skip
    with urllib.request.urlopen(request, timeout=30):
        pass
