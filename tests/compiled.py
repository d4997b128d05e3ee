"""Engines of tests that share what SQLAlchemy compiled.

It compiles each statement anew for each engine, which was half of what a short test did.
"""

from qcapp.store.engine import Store


def share_compiled(store: Store, first: Store) -> None:
    """first: has connected already, so that its dialect knows the database."""
    statements = first.engine.get_execution_options().get("compiled_cache", {})
    first.engine.update_execution_options(compiled_cache=statements)
    store.engine.dialect = first.engine.dialect
    store.engine.update_execution_options(compiled_cache=statements)
