"""One call of a phone as it leaves the browser, and the answer as it comes back."""

import gzip
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Self


@dataclass(frozen=True)
class Call:
    """id: by it a phone knows which of its calls is answered. headers: names in lower case."""

    method: str
    path: str
    query: str = ""
    headers: Mapping[str, str] = field(default_factory=dict)
    body: bytes = b""
    id: int = 0

    @classmethod
    def make(cls, method: str, path: str, token: str | None = None, json: Any = None) -> Self:
        """A call that no phone makes."""
        headers = {"authorization": f"Bearer {token}"} if token else {}
        return cls(method, path, headers=headers).with_json(json)

    def with_json(self, data: Any) -> Self:
        body = b"" if data is None else json.dumps(data).encode()
        headers = {name: text for name, text in self.headers.items() if name != "content-encoding"}
        return replace(self, headers={**headers, "content-type": "application/json"}, body=body)

    @cached_property
    def json(self) -> Any:
        is_packed = self.headers.get("content-encoding") == "gzip"
        return json.loads(gzip.decompress(self.body) if is_packed else self.body)


@dataclass(frozen=True)
class Answer:
    status: int
    headers: Mapping[str, str]
    text: str
