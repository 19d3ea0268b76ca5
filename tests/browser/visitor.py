"""A visitor without a browser: one session of the app over its own socket."""

import re
from contextlib import ExitStack
from typing import Any, Self

_ASKED = re.compile(r'"read": "\w')  # for its session


class Visitor:
    """One session, as a browser has it: asks for a page, types into fields, keeps the first sentence."""

    def __init__(self, address: str, query: str) -> None:
        self.address = address.replace("http://", "ws://") + "/_stcore/stream"
        self.query, self.headline = query, ""
        self.fields: dict[str, str] = {}
        self.storage = ""  # the component that asks what this browser had kept
        self.closing = ExitStack()

    def __enter__(self) -> Self:
        from websockets.sync.client import connect

        opened = connect(self.address, subprotocols=["streamlit"], max_size=None)  # type: ignore[list-item]
        self.socket = self.closing.enter_context(opened)
        return self

    def __exit__(self, *_: object) -> None:
        self.closing.close()

    def ask(self, page: str, **typed: str) -> str:
        """Run a page with texts in fields, named by the end of their key; the first sentence of the answer."""
        from streamlit.proto.BackMsg_pb2 import BackMsg

        message = BackMsg()
        message.rerun_script.query_string, message.rerun_script.page_name = self.query, page
        for name, text in typed.items():
            state = message.rerun_script.widget_states.widgets.add()
            state.id = next(key for key in self.fields if key.endswith(name))
            state.string_value = text
        self.socket.send(message.SerializeToString())
        self._listen()
        if self.storage:
            self._tell_what_was_kept(message)
        return self.headline

    def _tell_what_was_kept(self, message: Any) -> None:
        """Answer as a browser without anything in its storage."""
        state = message.rerun_script.widget_states.widgets.add()
        state.id = f"$$STREAMLIT_INTERNAL_KEY_{self.storage}__events"
        state.json_trigger_value = '[{"event": "found", "value": {"found": {}, "trouble": ""}}]'
        self.storage = ""
        self.socket.send(message.SerializeToString())
        self._listen()

    def _listen(self) -> None:
        """Take what the server sends until the script has run."""
        from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

        kind = ""
        while kind != "script_finished":
            sent: Any = ForwardMsg.FromString(self.socket.recv(timeout=60))  # type: ignore[arg-type]
            kind = sent.WhichOneof("type")
            if kind != "delta":
                continue
            element = sent.delta.new_element
            if element.WhichOneof("type") == "heading" and element.heading.tag == "h1":
                self.headline = element.heading.body.replace("\\", "")
            if element.WhichOneof("type") == "bidi_component" and _ASKED.search(element.bidi_component.json):
                self.storage = element.bidi_component.id
            if element.WhichOneof("type") == "text_input":
                self.fields[element.text_input.id] = element.text_input.default
