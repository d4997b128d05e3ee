"""Many rows into one table, as fast as the driver takes them."""

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Table


def insert_rows(connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Rows that all name the same columns in the same order, every one that has no default in the
    database itself.
    """
    if rows:
        insert_tuples(connection, table, list(rows[0]), [tuple(row.values()) for row in rows])


def insert_tuples(
    connection: Connection,
    table: Table,
    columns: Sequence[str],
    rows: Sequence[tuple[Any, ...]],
    *,
    or_else: str = "",
) -> None:
    """Values in the order of the columns; or_else: what the statement says of a row whose key is
    there. They go to the driver as they are: SQLAlchemy would take
    longer to look at each than the database to write it.
    """
    if not rows:
        return
    quote = connection.dialect.identifier_preparer.quote
    names = ", ".join(quote(table.c[name].name) for name in columns)
    marks = ", ".join([_MARK[connection.dialect.paramstyle]] * len(columns))
    # Of the program's table and column names alone.
    statement = f"INSERT INTO {quote(table.name)} ({names}) VALUES ({marks}) {or_else}"  # noqa: S608
    connection.exec_driver_sql(statement, list(rows))


# Of SQLite's driver and PostgreSQL's; both take tuples.
_MARK = {"qmark": "?", "pyformat": "%s"}
