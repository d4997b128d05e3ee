"""A small server that speaks the phone's protocol, keeps a true log, and can be told to misbehave."""

import gzip
import hashlib
import json
import threading
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

BUILD = "build1"
# What a test calls as `core`, by what the app's module is named in it.
CORE_MODULES = {
    "db": "store/db",
    "space": "store/free_space",
    "localDb": "store/local_db",
    "device": "store/device",
    "photos": "store/photos",
    "outbox": "store/outbox",
    "records": "store/records",
    "projection": "store/projection",
    "acknowledged": "store/acknowledge",
    "lineage": "store/lineage",
    "sync": "sync/sync",
    "told": "sync/status",
    "enrolment": "sync/enrol",
    "http": "sync/http",
    "upload": "sync/photo_upload",
    "files": "sync/export_file",
}
IMPORTS = "\n".join(
    f'  import * as {name} from "/static/{BUILD}/phone/js/{path}.js";'
    for name, path in CORE_MODULES.items()
)
# `core.save`: a whole record of a stove, with what more is said; `kept` as the outbox takes it.
BARE_PAGE = f"""<!doctype html><title>core</title><script type="module">
{IMPORTS}
  const save = (stove, more = {{}}, kept = {{}}) => outbox.record({{
    kind: "inspection", inspector: "I1", batch: "B1", stage: "finished", stove, photos: [],
    checklist: "finished-stove@1", checklist_hash: "{"0" * 64}", body: {{ size: "medium" }},
    ...more }}, kept);
  globalThis.core = Object.assign({{}}, {", ".join(CORE_MODULES)}, {{ save }});
</script>"""
TYPES = {".js": "text/javascript", ".css": "text/css", ".html": "text/html"}

# An answer: status, headers, body; None drops the connection.
Answer = tuple[int, dict, bytes] | None


def as_json(data, status: int = 200) -> Answer:
    return status, {"Content-Type": "application/json"}, json.dumps(data).encode()


def html(status: int = 200) -> Answer:
    return status, {"Content-Type": "text/html"}, b"<!doctype html><p>Welcome. Please sign in."


class FakeYard:
    """`disturb(method, path, request, answer)` may replace any answer after it was worked out."""

    def __init__(self, static_dir: Path):
        self.static_dir = static_dir
        self.server_id = "yard-1"
        self.log: list[dict] = []
        self.photos: dict[str, bytearray] = {}
        self.files: dict[str, Answer] = {
            "/bare": (200, {"Content-Type": "text/html"}, BARE_PAGE.encode())
        }
        self.reference = {
            "tag": "t1",
            "checklists": [],
            "batches": [],
            "people": [],
            "drawings": {},
        }
        self.known_checklists = ["0" * 64]
        self.disturb: Callable = lambda method, path, request, answer: answer
        self.judge: Callable = lambda event: ("created", None)
        self.calls: list[tuple[str, str, int]] = []
        self.requests: list[dict] = []
        self.pushes_now = self.max_pushes = 0
        self.lock = threading.Lock()
        self.is_gone = False
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self._server.daemon_threads = True
        self.url = f"http://127.0.0.1:{self._server.server_port}"
        threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True).start()

    def stop(self) -> None:
        # A connection that the browser opened in advance must not be served any more.
        self.is_gone = True
        self._server.shutdown()
        self._server.server_close()

    # --- the log

    def head(self) -> dict:
        return self._position(len(self.log))

    def _position(self, seq: int) -> dict:
        first = hashlib.sha256(self.server_id.encode()).hexdigest()
        return {"seq": seq, "chain": self.log[seq - 1]["chain"] if seq else first}

    def append(self, event: dict, state: str = "counted") -> None:
        before = self.head()["chain"]
        chain = hashlib.sha256(f"{before}{event['id']}{event.get('hash')}".encode()).hexdigest()
        self.log.append({"seq": len(self.log) + 1, "chain": chain, "state": state, "event": event})

    def stored_ids(self) -> list[str]:
        return [row["event"]["id"] for row in self.log]

    def _knows(self, have: dict | None) -> bool:
        return have is None or (
            have["seq"] <= len(self.log) and self._position(have["seq"]) == have
        )

    # --- calls

    def answer(self, method: str, path: str, query: dict, headers, body: bytes) -> Answer:
        if path in self.files:
            return self.files[path]
        if path.startswith("/static/"):
            return self._file(path)
        if path.startswith("/api/photos/"):
            return self._photo(method, path.rsplit("/", 1)[1], headers, body)
        request = json.loads(body) if body else {}
        with self.lock:
            return self._call(
                path, query, request, headers.get("Authorization", "").removeprefix("Bearer ")
            )

    def _call(self, path: str, query: dict, request: dict, token: str) -> Answer:
        if path == "/api/devices/enrol":
            device_id = request["device_id"]
            return as_json(
                {
                    "device_id": device_id,
                    "token": f"of {device_id}",
                    "name": "Phone 2",
                    "server_id": self.server_id,
                }
            )
        if path == "/api/sync/hello":
            return as_json(
                {
                    "protocol": 1,
                    "server_id": self.server_id,
                    "head": self.head(),
                    "limits": {"events": 100, "bytes": 262144, "event_bytes": 16384},
                    "checklists": self.known_checklists,
                    "reference_tag": self.reference["tag"],
                }
            )
        if path == "/api/sync/reference":
            return as_json(self.reference)
        if path == "/api/sync/push":
            return as_json(self._push(request))
        if path == "/api/sync/pull":
            return as_json(self._pull(query.get("cursor", [""])[0], token.removeprefix("of ")))
        return html(404)

    def _push(self, request: dict) -> dict:
        self.requests.append(request)
        assert len(request["events"]) <= 100
        stored = {row["event"]["id"]: row["event"]["hash"] for row in self.log}
        results = []
        for event in request["events"]:
            outcome, reason = self.judge(event)
            if event["id"] in stored:
                outcome, reason = (
                    "duplicate" if stored[event["id"]] == event["hash"] else "conflict",
                    None,
                )
            elif outcome != "retry":
                self.append(event, "counted" if outcome == "created" else outcome)
            results.append(
                {"id": event["id"], "outcome": outcome, **({"reason": reason} if reason else {})}
            )
        return {
            "protocol": 1,
            "request_id": request["request_id"],
            "head": self.head(),
            "results": results,
            "lineage": "ok" if self._knows(request["have"]) else "diverged",
        }

    def _pull(self, cursor: str, device_id: str) -> dict:
        seq, _, prefix = (
            cursor.partition(":") if cursor else ("0", "", self._position(0)["chain"][:16])
        )
        known = int(seq) <= len(self.log) and self._position(int(seq))["chain"][:16] == prefix
        rows = (
            [row for row in self.log[int(seq) :] if row["event"]["device_id"] != device_id]
            if known
            else []
        )
        head = self.head()
        events = [{key: row[key] for key in ("seq", "state", "event")} for row in rows]
        cursor = f"{head['seq']}:{head['chain'][:16]}" if known else ""
        return {
            "protocol": 1,
            "lineage": "ok" if known else "diverged",
            "events": events,
            "cursor": cursor,
            "head": head,
            "more": False,
        }

    def _photo(self, method: str, name: str, headers, piece: bytes) -> Answer:
        kept = self.photos.setdefault(name, bytearray())
        is_next = method == "PATCH" and int(headers["Upload-Offset"]) == len(kept)
        if is_next:
            kept.extend(piece)
        status = 200 if method == "HEAD" else 204 if is_next else 409
        return status, {"Upload-Offset": str(len(kept))}, b""

    def _file(self, path: str) -> Answer:
        file = self.static_dir / path.split("/", 3)[3]
        if not file.is_file():
            return html(404)
        return (
            200,
            {"Content-Type": TYPES.get(file.suffix, "application/octet-stream")},
            file.read_bytes(),
        )

    # --- http

    def _handler(yard):  # noqa: N805  (the inner class has a self of its own)
        class Handler(BaseHTTPRequestHandler):
            def _serve(self) -> None:
                body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
                url = urlsplit(self.path)
                yard.calls.append((self.command, url.path, len(body)))
                plain = (
                    gzip.decompress(body)
                    if self.headers.get("Content-Encoding") == "gzip"
                    else body
                )
                yard.count_push(url.path, 1)
                found = yard.answer(
                    self.command, url.path, parse_qs(url.query), self.headers, plain
                )
                found = None if yard.is_gone else yard.disturb(self.command, url.path, plain, found)
                yard.count_push(url.path, -1)
                if found is None:
                    self.close_connection = True
                    return
                status, headers, content = found
                self.send_response(status)
                for name, value in {
                    "Cache-Control": "no-store",
                    **headers,
                    "Content-Length": str(len(content)),
                }.items():
                    self.send_header(name, value)
                self.end_headers()
                self.wfile.write(b"" if self.command == "HEAD" else content)

            # The names that http.server looks for.
            do_GET = do_POST = do_HEAD = do_PATCH = _serve  # noqa: N815

            def log_message(self, *_ignored) -> None:
                pass

        return Handler

    def count_push(self, path: str, change: int) -> None:
        if path != "/api/sync/push":
            return
        with self.lock:
            self.pushes_now += change
            self.max_pushes = max(self.max_pushes, self.pushes_now)
