"""Every table of sentences that are stored, for the tests that hold something of all of them."""

from collections.abc import Iterator
from contextlib import contextmanager

from qcapp.access import audit_messages
from qcapp.i18n.messages import MessageTable
from qcapp.reports import decision_reasons, summary_messages
from qcapp.sync import photo_refusals, quarantine_reasons

TABLES: dict[str, MessageTable] = {
    "quarantine": quarantine_reasons.REASONS,
    "photo": photo_refusals.REFUSALS,
    "decision": decision_reasons.REASONS,
    "summary": summary_messages.MESSAGES,
}
SENTENCES = list({id(one): one for table in TABLES.values() for one in table}.values())


@contextmanager
def reworded() -> Iterator[None]:
    """Inside, every sentence and every line of the audit trail has other words."""
    kept = [(sentence, sentence.one, sentence.many) for sentence in SENTENCES]
    lines = dict(audit_messages.AUDIT_MESSAGES)
    for sentence, one, many in kept:
        # Frozen for the program, not for this test of what the program may not depend on.
        object.__setattr__(sentence, "one", f"In other words: {one}")
        object.__setattr__(sentence, "many", many and f"In other words: {many}")
    audit_messages.AUDIT_MESSAGES.update(dict.fromkeys(lines, "something"))
    try:
        yield
    finally:
        for sentence, one, many in kept:
            object.__setattr__(sentence, "one", one)
            object.__setattr__(sentence, "many", many)
        audit_messages.AUDIT_MESSAGES.update(lines)
