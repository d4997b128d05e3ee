"""Whatever came as an event, in the form in which the log keeps it: nothing is refused for what it
says, only what is too large or too deep to keep.
"""

import json
from dataclasses import dataclass
from typing import Any

from qcapp.errors import QcappError
from qcapp.i18n.messages import Message
from qcapp.inspection.event import canonical, freeze, kept_hash
from qcapp.inspection.plain_json import is_deeper
from qcapp.inspection.signature import SIGNATURE_LENGTH
from qcapp.sync.protocol import MAX_EVENT_BYTES
from qcapp.sync.quarantine_reasons import TOO_DEEP, TOO_LARGE

Content = dict[str, Any]


@dataclass(frozen=True)
class Arrived:
    """Whatever came as an event. raw: the text kept for ever; hash: of all but its own hash field.

    refusal: why it cannot be kept at all, else None. signature: what came beside it, where that
    has the length of one.
    """

    content: Content
    raw: str
    hash: str
    refusal: Message | None = None
    signature: str | None = None


def freeze_arrived(value: Any, signature: Any = None) -> Arrived:
    content = value if isinstance(value, dict) else {"unreadable": value}
    try:
        whole, content_hash = freeze(content)
    except QcappError:
        # Numbers, text or depths that an event never has: kept as ASCII JSON, found by the form
        # check.
        try:
            raw = _write_harmless(content)
        except RecursionError:
            return Arrived({"id": content.get("id")}, "", "", TOO_DEEP())
        whole, content_hash = raw.encode(), kept_hash(json.loads(raw), raw)
    is_large = len(whole) > MAX_EVENT_BYTES
    refusal = TOO_LARGE(max_bytes=MAX_EVENT_BYTES) if is_large else None
    given = read_text(signature, most=SIGNATURE_LENGTH)
    return Arrived(content, whole.decode(), content_hash, refusal, given)


def _write_harmless(content: Content) -> str:
    """JSON text that every answer can carry on: one junk record must not end the pulls of all
    phones.

    Half characters, endless numbers and great depths are kept as a string inside.
    """
    text = json.dumps(content, sort_keys=True)
    try:
        json.dumps(content, ensure_ascii=False, allow_nan=False).encode()
        is_fine = not is_deeper(content)
    except ValueError:
        is_fine = False
    return text if is_fine else canonical({"unreadable": text}).decode()


def read_text(value: Any, *, most: int = 64) -> str | None:
    """The value when it is text that can be shown and indexed, else None."""
    return (
        value if isinstance(value, str) and 0 < len(value) <= most and value.isprintable() else None
    )
