"""Checklists that come along with records, as a phone or a file brings them."""

import json
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from qcapp.checklist.model import Checklist
from qcapp.errors import QcappError
from qcapp.store.registry import checklists
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.allowance import Allowance


def keep_brought_checklists(
    connection: Connection, definitions: list[Any], allowance: Allowance, now: datetime
) -> None:
    """Keeps those that are new here. What is none, or more than a day's allowance, is left: the
    records that need it stay in the log as "unknown checklist".
    """
    for compiled in definitions:
        try:
            checklist = Checklist.from_compiled(compiled)
            digest = checklist.hash
        except (QcappError, ValueError):
            # Half a character, or a number that has no canonical form, shows only in its hash.
            continue
        if digest in checklists.load_kept(connection, [digest]):
            continue
        if allowance.take_record(len(json.dumps(compiled))):
            checklists.publish_checklist(
                connection, checklist, origin=checklists.BROUGHT, now=format_timestamp(now)
            )
