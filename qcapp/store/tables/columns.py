"""What the tables are made with."""

from sqlalchemy import BigInteger, Integer, Table
from sqlmodel import SQLModel

# What a phone says of its numbers and clock has up to 53 bits; SQLite's integers always have 64.
WIDE = BigInteger().with_variant(Integer(), "sqlite")


def get_table(model: type[SQLModel]) -> Table:
    """The table that queries are written with."""
    return SQLModel.metadata.tables[str(model.__tablename__)]
