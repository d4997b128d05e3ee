"""Artisans and inspectors of the yard."""

import json
from collections.abc import Mapping, Sequence
from typing import Any, TypedDict, cast

from sqlalchemy import Connection, Row, insert, select, update

from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.tables import PERSON


class Person(TypedDict):
    """started_on: ISO date, None where nobody said. Whoever left stays: records name them."""

    code: str
    name: str
    trades: list[str]
    started_on: str | None
    is_inspector: bool
    has_left: bool


def save_people(connection: Connection, people: Sequence[Mapping[str, Any]]) -> None:
    """Adds people, or changes those whose code is already here.

    Each as Person; somebody new without has_left has not left.
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


def find_person(connection: Connection, code: str) -> Person | None:
    row = connection.execute(select(PERSON).where(PERSON.c.code == code)).first()
    return _read_person(row) if row else None


def get_person(connection: Connection, code: str) -> Person:
    """Raises NotFound."""
    person = find_person(connection, code)
    if person is None:
        raise NotFound(
            phrase("there is no person with this code"), code, phrase("see the list of people")
        )
    return person


# Made once: every push asks it.
_BY_CODE = select(PERSON).order_by(PERSON.c.code)


def list_people(connection: Connection) -> list[Person]:
    """By code."""
    return [_read_person(row) for row in connection.execute(_BY_CODE)]


def erase_person_name(connection: Connection, code: str) -> None:
    """The name becomes the code."""
    connection.execute(update(PERSON).where(PERSON.c.code == code).values(name=code))


def _read_person(row: Row[Any]) -> Person:
    values = row._asdict()
    return cast(Person, {**values, "trades": json.loads(values["trades"])})
