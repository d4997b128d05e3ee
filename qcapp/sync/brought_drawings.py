"""Drawings and pictures that come along with a checklist which the yard never published.

They go through the same list as any other (checklist/svg.py); what is not let in is kept apart, so
that the lead can read why when deciding about the checklist.
"""

from typing import Any, NamedTuple

from sqlalchemy import Connection

from qcapp.checklist.drawing import MAX_DRAWING_BYTES, check_shown
from qcapp.checklist.pictures import list_shown
from qcapp.errors import BadInput
from qcapp.store.registry import checklists, drawings
from qcapp.store.storable import is_storable
from qcapp.sync.allowance import Allowance


class Refusal(NamedTuple):
    """name: of the drawing; error: what is wrong with it, where, and what to do."""

    name: str
    error: BadInput


def keep_brought_drawings(connection: Connection, brought: list[Any], allowance: Allowance) -> None:
    """brought: [{"checklist": hash, "name": as list_shown gives it, "svg": text}].

    Kept is what an unpublished checklist names; whatever else comes is left.
    """
    fitting = [one for one in brought if _is_brought(one)]
    if not fitting:
        return
    unpublished = checklists.list_unpublished(connection, {one["checklist"] for one in fitting})
    known = checklists.load_checklists(connection, unpublished)
    named = {key: list_shown(checklist.compiled()) for key, checklist in known.items()}
    for one in fitting:
        key, name, source = one["checklist"], one["name"], one["svg"]
        if name in named.get(key, ()) and allowance.take_bytes(len(source)):
            drawings.keep_brought(connection, key, name, source)


def _is_brought(one: Any) -> bool:
    return (
        isinstance(one, dict)
        and all(isinstance(one.get(key), str) for key in ("checklist", "name", "svg"))
        and len(one["svg"]) <= MAX_DRAWING_BYTES
        and is_storable(one["checklist"])
        and is_storable(one["name"])
        and _can_be_stored(one["svg"])
    )


def _can_be_stored(text: str) -> bool:
    """Half characters and zeros are no XML anyway."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return "\0" not in text


def list_refusals(connection: Connection, checklist_hash: str) -> list[Refusal]:
    """Why drawings that came with a checklist were not let in."""
    found = []
    for name, source in drawings.list_refused(connection, checklist_hash):
        try:
            check_shown(name, source)
        except BadInput as error:
            found.append(Refusal(name, error))
    return found
