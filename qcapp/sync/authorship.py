"""Whose a record is: each phone signs with a key of its own, and the server knows the key.

A phone without a key (it joined before there were any, or its browser keeps none) is believed in
its own exchange alone. What is not proven is kept and held back, never refused; when the same
record comes once more and is proven then, it counts.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import Connection

from qcapp.i18n.messages import Message
from qcapp.inspection.event import SERVER_DEVICE, SERVER_KINDS, is_phone_id
from qcapp.inspection.signature import is_signed, read_public_key
from qcapp.inspection.study import RECHECK
from qcapp.store import log
from qcapp.store.registry import device_keys, devices
from qcapp.store.registry.device_keys import Author
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.arrived import Arrived, read_text
from qcapp.sync.audit_trail import note
from qcapp.sync.facts import Facts
from qcapp.sync.protocol import DeviceNote, PushRequest
from qcapp.sync.quarantine_reasons import (
    BAD_SIGNATURE,
    FOREIGN_LOSS,
    NOT_AN_INSPECTOR,
    OLD_KEY,
    RECHECK_ONLY,
    REVOKED_PHONE,
    UNKNOWN_PHONE,
    UNSIGNED,
)

# A record held back for one of these counts once it comes with its phone's signature.
UNPROVEN = tuple(
    reason.code for reason in (BAD_SIGNATURE, OLD_KEY, REVOKED_PHONE, UNKNOWN_PHONE, UNSIGNED)
)


class Introduced(NamedTuple):
    """authors: by id, the phones that a push names, as they are known now; is_its_own: whether what
    the push says of a phone is about the one that sends it.
    """

    authors: Mapping[str, Author]
    is_its_own: bool


def is_unproven(reason: Message | None) -> bool:
    """Held back because nothing shows that the phone it names made it."""
    return reason is not None and reason.code in UNPROVEN


def find_author_reason(
    content: Mapping[str, Any],
    content_hash: str,
    signature: str | None,
    authors: Mapping[str, Author],
    relayed_by: str,
) -> Message | None:
    """Why it is not proven that the phone which the record names made it, None when it is.

    content: of a well-formed event with the right hash. authors: phones of this yard by id.
    """
    if content["kind"] in SERVER_KINDS:
        # No phone makes one, whoever it is.
        return None
    device_id = content["device_id"]
    author, sender = authors.get(device_id), authors.get(relayed_by)
    is_own = device_id == relayed_by
    # No phone goes by the server's name, as one could before ids were looked at.
    if author is None or device_id == SERVER_DEVICE:
        return None if is_own and device_id != SERVER_DEVICE else UNKNOWN_PHONE()
    if author.is_revoked:
        return REVOKED_PHONE()
    if not author.has_key:
        is_own = is_own or (sender is not None and sender.first_id == author.first_id)
        return _find_limits_reason(content, author, authors) if is_own else UNSIGNED()
    if signature is None:
        return UNSIGNED()
    if any(is_signed(content_hash, signature, key) for key in author.keys):
        return _find_limits_reason(content, author, authors)
    is_old = any(is_signed(content_hash, signature, key) for key in author.retired)
    return OLD_KEY() if is_old else BAD_SIGNATURE()


def _find_limits_reason(
    content: Mapping[str, Any], author: Author, authors: Mapping[str, Author]
) -> Message | None:
    """What this phone may not say. The buyer's checks a batch again and does nothing else, whoever
    carries its records; only the phone itself, under whatever id it goes on, says what it lost.
    """
    batch = author.buyer_batch
    if batch is not None and content["body"].get("study") != f"{RECHECK}{batch}":
        return RECHECK_ONLY(batch=batch)
    if content["kind"] != "device_report":
        return None
    loser = authors.get(name_loser(content) or "")
    return FOREIGN_LOSS() if loser and loser.first_id != author.first_id else None


def find_role_reason(
    content: Mapping[str, Any], facts: Facts, makers: Mapping[str, str]
) -> Message | None:
    """Whoever inspects may correct and void what another made; anybody else only what is his.

    makers: who made the records that others are about, by id.
    """
    by = content["inspector"]
    if content["kind"] not in ("correction", "void") or by not in facts.people - facts.inspectors:
        return None
    return None if makers.get(content["corrects"]) == by else NOT_AN_INSPECTOR(inspector=by)


def load_makers(connection: Connection, contents: Sequence[Any], facts: Facts) -> dict[str, str]:
    """Of the records that are corrected or voided by somebody who does not inspect: nearly none."""
    wanted = {
        target
        for content in contents
        if (target := read_text(content.get("corrects")))
        and read_text(content.get("inspector")) not in facts.inspectors
    }
    here = {
        event_id: maker
        for content in contents
        if (event_id := read_text(content.get("id"))) in wanted
        and event_id
        and (maker := read_text(content.get("inspector"), most=100))
    }
    return here | log.list_makers(connection, wanted)


def name_loser(content: Any) -> str | None:
    """The id of the phone that a report of a loss is about."""
    body = content.get("body") if isinstance(content, dict) else None
    return read_text(body.get("device_id")) if isinstance(body, dict) else None


def introduce_phones(
    connection: Connection,
    request: PushRequest,
    arrived: Sequence[Arrived],
    relayed_by: str,
    now: datetime,
) -> Introduced:
    """Notes what a push newly tells of its sender's ids and keys, before any record is judged."""
    said = request.device
    is_said = said.id == relayed_by or (
        is_phone_id(said.id) and _has_record_of(request.events, said.id)
    )
    if said.id != relayed_by and is_said:
        devices.add_restarted_device(connection, said.id, of=relayed_by, now=format_timestamp(now))
    # What is no phone's id is not looked for.
    named = _list_named(arrived) | {relayed_by} | ({said.id} if is_said else set())
    authors = device_keys.load_authors(connection, named)
    author, sender = authors.get(said.id), authors.get(relayed_by)
    is_its_own = bool(is_said and author and sender and author.first_id == sender.first_id)
    if author and is_its_own and _introduce_sender(connection, said, author, now):
        authors = device_keys.load_authors(connection, named)
    if _introduce_earlier_ids(connection, arrived, authors, relayed_by, now):
        authors = device_keys.load_authors(connection, named)
    return Introduced(authors, is_its_own)


def _list_named(arrived: Iterable[Arrived]) -> set[str]:
    """Phones that the records name."""
    contents = [one.content for one in arrived]
    ids = {read_text(content.get("device_id")) for content in contents}
    losers = {name_loser(content) for content in contents}
    return {one for one in ids | losers if one}


def _introduce_sender(
    connection: Connection, said: DeviceNote, author: Author, now: datetime
) -> bool:
    """Notes the key with which a joined phone makes records now; gives whether it is a new one.

    Its first key is believed, because it comes with the phone's token; another one is not: for that
    the phone has to join again.
    """
    # Once there is a key, a token alone brings no other one, under none of the phone's ids. Under a
    # new id, what is noted beside its lost database shows that it is the same phone.
    is_first = not author.has_key or (
        said.restart is not None
        and devices.is_restart(connection, said.id, author.first_id, said.restart)
        and not device_keys.has_own_key(connection, said.id)
    )
    if said.restart:
        devices.note_restart_hash(connection, said.id, said.restart)
    if said.key and is_first and said.key not in author.keys:
        register_key(connection, said.id, said.key, now)
        return True
    return False


def _introduce_earlier_ids(
    connection: Connection,
    arrived: Iterable[Arrived],
    authors: Mapping[str, Author],
    relayed_by: str,
    now: datetime,
) -> bool:
    """Notes ids that nobody here knows as the sending phone's own, where its key signed the record;
    gives whether there were any.

    A restored server has forgotten an id under which a phone went on; when the phone joins again,
    what it made under that id comes with the same key.
    """
    sender = authors.get(relayed_by)
    found = {
        device_id
        for one in arrived
        if sender
        and one.signature
        and (device_id := read_text(one.content.get("device_id")))
        and device_id not in authors
        and is_phone_id(device_id)
        and any(is_signed(one.hash, one.signature, key) for key in sender.keys)
    }
    for device_id in sorted(found):
        devices.add_restarted_device(
            connection, device_id, of=relayed_by, now=format_timestamp(now)
        )
    return bool(found)


def _has_record_of(events: Sequence[Any], device_id: str) -> bool:
    """Whether an event names this id; the empty one is no phone's."""
    return bool(device_id) and any(
        isinstance(event, dict) and event.get("device_id") == device_id for event in events
    )


def note_copies(connection: Connection, fresh: Sequence[log.Entry], now: datetime) -> None:
    """Two different records with one number of a phone: there are two of it, each with its memory.

    Its records are then given back to it too (sync/pull.py), so that each copy sees the other's.
    """
    numbers: dict[str, list[int]] = {}
    for entry in fresh:
        if entry.state != "conflict" and entry.dev_seq > 0:
            numbers.setdefault(entry.device_id, []).append(entry.dev_seq)
    for device_id, number in log.list_shared_numbers(connection, numbers, UNPROVEN).items():
        devices.note_contact(
            connection, device_id, copied_number=number, copied_at=format_timestamp(now)
        )


def register_key(
    connection: Connection, device_id: str, public_key: str | None, now: datetime
) -> None:
    """The log says so too, under the same running hash as the records: a key that somebody puts
    into the table in its place is found (store/upkeep/audit_signatures.py).
    """
    if public_key is None or read_public_key(public_key) is None:
        return
    about = {"device": device_id, "key": public_key}
    note(connection, action="phone_key", by="phone", about=about, now=now)
    device_keys.add_key(
        connection,
        device_id,
        public_key,
        from_seq=log.get_head(connection).seq,
        now=format_timestamp(now),
    )
