"""Drafts of checklists: each change a row, the newest is the draft; links to practise one."""

from typing import NamedTuple

from sqlalchemy import Connection, delete, func, insert, select

from qcapp.errors import Clash
from qcapp.i18n.phrase import phrase
from qcapp.store.tables import DRAFT, PRACTICE_LINK

# Further back than anybody undoes; each is the whole text.
MAX_VERSIONS = 100


class DraftVersion(NamedTuple):
    """As tables/registry.py: Draft."""

    checklist_id: str
    version: int
    text: str
    begun_from: str
    made_by: str
    made_at: str


COLUMNS = [DRAFT.c[name] for name in DraftVersion._fields]


def find_draft(connection: Connection, checklist_id: str) -> DraftVersion | None:
    query = select(*COLUMNS).where(DRAFT.c.checklist_id == checklist_id)
    row = connection.execute(query.order_by(DRAFT.c.version.desc()).limit(1)).first()
    return DraftVersion(*row) if row else None


def list_drafts(connection: Connection) -> dict[str, DraftVersion]:
    """The newest version of each, by the checklist's id."""
    newest = select(DRAFT.c.checklist_id, func.max(DRAFT.c.version).label("version"))
    newest_of = newest.group_by(DRAFT.c.checklist_id).subquery()
    query = select(*COLUMNS).join(
        newest_of,
        (DRAFT.c.checklist_id == newest_of.c.checklist_id)
        & (DRAFT.c.version == newest_of.c.version),
    )
    return {row.checklist_id: DraftVersion(*row) for row in connection.execute(query)}


def list_texts(connection: Connection) -> list[str]:
    """Of every version of every draft."""
    return list(connection.execute(select(DRAFT.c.text)).scalars())


def add_version(connection: Connection, made: DraftVersion) -> None:
    """Raises Clash when the draft was changed meanwhile."""
    newest = find_draft(connection, made.checklist_id)
    if made.version != (newest.version if newest else 0) + 1:
        raise Clash(
            phrase("this draft was changed a moment ago by someone else"),
            made.checklist_id,
            phrase("open it again and make your change once more"),
        )
    connection.execute(insert(DRAFT), [made._asdict()])
    too_old = DRAFT.c.version <= made.version - MAX_VERSIONS
    connection.execute(delete(DRAFT).where(DRAFT.c.checklist_id == made.checklist_id, too_old))


def undo_version(connection: Connection, checklist_id: str) -> None:
    """Takes the last change back; without any left there is no draft."""
    newest = find_draft(connection, checklist_id)
    if newest:
        same = DRAFT.c.checklist_id == checklist_id
        connection.execute(delete(DRAFT).where(same, DRAFT.c.version == newest.version))


def delete_draft(connection: Connection, checklist_id: str) -> None:
    connection.execute(delete(DRAFT).where(DRAFT.c.checklist_id == checklist_id))
    connection.execute(delete(PRACTICE_LINK).where(PRACTICE_LINK.c.checklist_id == checklist_id))


def set_practice_link(
    connection: Connection, *, token_hash: str, checklist_id: str, expires_at: str
) -> None:
    """A newer link replaces the older one."""
    connection.execute(delete(PRACTICE_LINK).where(PRACTICE_LINK.c.checklist_id == checklist_id))
    row = {"token_hash": token_hash, "checklist_id": checklist_id, "expires_at": expires_at}
    connection.execute(insert(PRACTICE_LINK), [row])


def find_practised(connection: Connection, token_hash: str, now: str) -> str | None:
    """The id of the checklist whose draft the link opens; None when it is not known or too old."""
    query = select(PRACTICE_LINK.c.checklist_id).where(
        PRACTICE_LINK.c.token_hash == token_hash, PRACTICE_LINK.c.expires_at > now
    )
    found: str | None = connection.execute(query).scalar()
    return found
