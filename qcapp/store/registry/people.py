"""Artisans and inspectors of the yard."""

import json
from collections.abc import Mapping, Sequence

from sqlalchemy import Connection, insert, select, update

from qcapp.store.tables import Person

PERSON = Person.__table__


def save_people(connection: Connection, people: Sequence[Mapping]) -> None:
    """Adds people, or changes those whose code is already here.

    Each: code, name, trades (list), started_on (ISO date or None), is_inspector; has_left, False for somebody new without it.
    """
    known = set(connection.execute(select(PERSON.c.code)).scalars())
    for person in people:
        values = {**person, "trades": json.dumps(list(person["trades"]))}
        if person["code"] in known:
            connection.execute(
                update(PERSON).where(PERSON.c.code == person["code"]).values(**values)
            )
        else:
            connection.execute(insert(PERSON), [values])


def list_people(connection: Connection) -> list[dict]:
    rows = connection.execute(select(PERSON).order_by(PERSON.c.code))
    return [{**row._mapping, "trades": json.loads(row.trades)} for row in rows]
