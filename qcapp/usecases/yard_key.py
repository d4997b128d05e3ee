"""The key with which a yard signs: summaries and checkpoints of its log."""

from pathlib import Path

from qcapp.access.signing_key import SigningKey, load_or_make_key
from qcapp.errors import StartError
from qcapp.store.engine import Store
from qcapp.store.queries import summaries


def refuse_missing_key(store: Store, path: Path) -> None:
    """Raises StartError when summaries were issued and the key that signed them is not here.

    A new one in its place would make the buyers' copy of the public key worthless without a word.
    """
    if path.exists():
        return
    with store.reading() as connection:
        if summaries.has_summaries(connection):
            raise StartError(
                "the yard's key is not here, but summaries were signed with it",
                str(path),
                "put the copy from your backup there, or name its place in QCAPP_KEY_FILE; only if "
                "it is lost for good, start once with qcapp serve --new-key, and tell your buyers "
                "the new public key",
            )


def load_yard_key(store: Store, path: Path) -> SigningKey:
    """Made when there is none yet. Raises StartError as refuse_missing_key."""
    refuse_missing_key(store, path)
    return load_or_make_key(path)
