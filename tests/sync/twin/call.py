"""One call of a phone and what its answer means, in Python:
a reading of static/phone/js/sync/http.js.
"""

import gzip
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

MAX_BATCH = 100
MAX_BATCH_BYTES = 196_608
WORTH_GZIP_BYTES = 1000


@dataclass(frozen=True)
class Call:
    method: str
    path: str
    token: str | None = None
    json: Any = None
    content: bytes | None = None
    headers: Mapping[str, str] = field(default_factory=dict)
    query: str = ""

    def pack(self) -> tuple[bytes, dict[str, str]]:
        """Body and headers as the browser sends them."""
        headers = dict(self.headers)
        if self.token:
            headers["authorization"] = f"Bearer {self.token}"
        if self.content is not None:
            return self.content, headers
        if self.json is None:
            return b"", headers
        plain = json.dumps(self.json, ensure_ascii=False, separators=(",", ":")).encode(
            "utf-8", "surrogatepass"
        )
        if len(plain) < WORTH_GZIP_BYTES:
            return plain, headers
        return gzip.compress(plain, 1), {**headers, "content-encoding": "gzip"}


@dataclass(frozen=True)
class Answer:
    status: int
    headers: Mapping[str, str]
    text: str


@dataclass(frozen=True)
class Heard:
    """What an answer means to the phone; kind as classify() in call.js gives it."""

    kind: str
    data: Any = None
    offset: int | None = None
    wait_ms: int | None = None
    error: Mapping | None = None
    timed_out: bool = False


def read_offset(text: str | None) -> int | None:
    is_number = bool(text) and text.isascii() and text.isdigit() and len(text) <= 12
    return int(text) if is_number else None


def classify(answer: Answer, accepts: Callable[[dict], bool] | None) -> Heard:
    headers = {name.lower(): value for name, value in answer.headers.items()}
    if answer.status in (429, 503):
        wait = headers.get("retry-after", "")
        return Heard("wait", wait_ms=min(3_600_000, int(wait) * 1000) if wait.isdigit() else None)
    if answer.status == 413:
        return Heard("too-large")
    offset = read_offset(headers.get("upload-offset"))
    if not accepts and offset is not None:
        if answer.status in (200, 204):
            return Heard("ok", offset=offset)
        if answer.status == 409:
            return Heard("offset", offset=offset)
    try:
        data = json.loads(answer.text)
    except ValueError:
        data = None
    if answer.status == 200 and accepts and isinstance(data, dict) and accepts(data):
        return Heard("ok", data=data)
    error = data.get("error") if isinstance(data, dict) else None
    if not isinstance(error, dict) or not isinstance(error.get("what"), str):
        error = None
    if not error or not 400 <= answer.status < 500:
        return Heard("not-connected", error=error)
    return Heard("pair-again" if answer.status == 401 else "refused", error=error)


def fill_batch(rows: list[dict], size: int) -> list[dict]:
    batch, used = [], 0
    for row in rows[:size]:
        used += len(
            json.dumps(row["event"], ensure_ascii=False, separators=(",", ":")).encode(
                "utf-8", "surrogatepass"
            )
        )
        if batch and used > MAX_BATCH_BYTES:
            break
        batch.append(row)
    return batch


def next_size(size: int, sent: int, heard: Heard) -> int:
    """Without a network every good answer is a quick one."""
    if heard.kind == "ok":
        return min(MAX_BATCH, size * 2)
    is_too_much = heard.timed_out or heard.kind in ("too-large", "refused")
    return max(1, sent // 2) if is_too_much else size
