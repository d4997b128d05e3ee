"""What a server without a lead prints: the link that makes one."""

from datetime import UTC, datetime

from qcapp.access.invites import FIRST_LIFE, make_first_link
from qcapp.store.engine import Store

MINUTES = int(FIRST_LIFE.total_seconds() // 60)


def welcome_first_lead(store: Store, *, address: str, role: str) -> None:
    """On a server without a lead, prints the one-time link that makes one. address: ends with /."""
    token = make_first_link(store, role=role, now=datetime.now(UTC))
    if token:
        print(
            f"There is no {role.replace('_', ' ')} yet. Open this once, within {MINUTES} "
            f"minutes:\n  {address}welcome/{token}",
            flush=True,
        )
