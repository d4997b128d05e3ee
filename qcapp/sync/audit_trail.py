"""Who did what, under the same running hash as the inspections: an altered line is noticed.

A line says who by the account's code, and about what by codes and ids; never a name, a password, a
token.
"""

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import Connection

from qcapp.sync.server_events import append_server_event


def note(
    connection: Connection,
    *,
    action: str,
    by: str,
    about: Mapping[str, str] | None = None,
    now: datetime,
) -> None:
    """Appends a line to the trail inside the caller's writer transaction.

    action: a code of qcapp/access/audit_messages.py, by: an account's code or one of ACTORS there.
    """
    said = {key: value[:100] for key, value in (about or {}).items() if value}
    append_server_event(
        connection, kind="trail", recorder=by, body={"action": action, "about": said}, now=now
    )
