"""Brings a database to the newest shape, whatever version it has."""

from pathlib import Path

from alembic import command
from alembic.config import Config

from qcapp.store.engine import Store

SCRIPTS = Path(__file__).parent / "migrations"


def migrate(store: Store) -> None:
    """Runs the missing steps in one writer transaction: all of them, or none."""
    config = Config()
    config.set_main_option("script_location", str(SCRIPTS).replace("%", "%%"))
    with store.writing() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
