"""Alembic's entry: works on the connection it is given, never on one of its own."""

from alembic import context
from sqlmodel import SQLModel

from qcapp.store import tables  # noqa: F401  (fills the metadata)

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=SQLModel.metadata, render_as_batch=True)
# The transaction is the caller's: a failed step leaves nothing behind.
context.run_migrations()
