"""What the yard lead has said of the yard: its name, what it makes and checks, its usual crew."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from sqlalchemy import Connection

from qcapp.store.registry.facts import find_fact, set_fact

KEY = "yard"


@dataclass(frozen=True)
class YardFacts:
    """name: empty until the lead gives one. is_practised: the practice walk was done; is_ended:
    the lead has put the guided start away; has_no_cards: artisans get no cards.

    crew: who usually does it by trade; "" where that differs from stove to stove. signatory: the
    name of who answers for the summaries, with his or her role; contact, claims: what a buyer
    reads of whom to ask, and how to claim.
    """

    name: str = ""
    sizes: tuple[str, ...] = ()
    checklist_ids: tuple[str, ...] = ()
    crew: Mapping[str, str] = field(default_factory=dict)
    signatory: str = ""
    signatory_role: str = ""
    contact: str = ""
    claims: str = ""
    is_practised: bool = False
    is_ended: bool = False
    has_no_cards: bool = False


def load_yard_facts(connection: Connection) -> YardFacts:
    kept = json.loads(find_fact(connection, KEY) or "{}")
    return YardFacts(
        **{
            **kept,
            "sizes": tuple(kept.get("sizes", ())),
            "checklist_ids": tuple(kept.get("checklist_ids", ())),
        }
    )


def save_yard_facts(connection: Connection, **changed: Any) -> None:
    """Changes the named facts and keeps the others; in a writer transaction."""
    kept = {**asdict(load_yard_facts(connection)), **changed}
    set_fact(connection, KEY, json.dumps(kept, ensure_ascii=False))


def get_yard_name(connection: Connection, otherwise: str) -> str:
    """What the lead has called the yard; otherwise: the setting, which holds until then."""
    return load_yard_facts(connection).name or otherwise
