"""What a yard has told of itself so far: its name, people, crew, batches, checklists, phones."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from qcapp.i18n.localized_text import Text, text_of
from qcapp.store.engine import Connection, Store
from qcapp.store.registry import batches, checklists, devices, people
from qcapp.store.registry.yard_facts import YardFacts, get_yard_name, load_yard_facts


@dataclass(frozen=True)
class YardState:
    """What the guide looks at. current: newest compiled checklists."""

    facts: YardFacts
    people: Sequence[Mapping[str, Any]]
    batches: Sequence[Mapping[str, Any]]
    current: Sequence[Mapping[str, Any]]
    phones: int

    @property
    def chosen(self) -> list[Mapping[str, Any]]:
        """The checklists the yard works with; all of them until it has chosen."""
        return [one for one in self.current if one["id"] in self.facts.checklist_ids] or list(
            self.current
        )

    @property
    def sizes(self) -> list[str]:
        """The yard's sizes; those its checklists know until it has chosen."""
        known = list(dict.fromkeys(size for one in self.current for size in one["sizes"]))
        return [size for size in known if size in self.facts.sizes] or known

    @property
    def trades(self) -> dict[str, list[Text]]:
        """{trade: titles of its steps} of the chosen checklists, in their order."""
        return _list_trades(self.chosen)

    @property
    def all_trades(self) -> dict[str, list[Text]]:
        """The same of every checklist: a trade may be had before the yard checks its work."""
        return _list_trades(self.current)

    @property
    def present(self) -> list[Mapping[str, Any]]:
        """The people who have not left."""
        return [person for person in self.people if not person["has_left"]]

    @property
    def crew(self) -> dict[str, str]:
        """Who usually does it by trade, "" where that differs; a trade whose person left waits for
        a new choice.
        """
        gone = {person["code"] for person in self.people if person["has_left"]}
        return {trade: code for trade, code in self.facts.crew.items() if code not in gone}

    def list_of_trade(self, trade: str, chosen: str = "") -> list[Mapping[str, Any]]:
        """Who may be named for it. chosen: the code that is named already, who may have left
        since.
        """
        return [
            person
            for person in self.people
            if trade in person["trades"] and (not person["has_left"] or person["code"] == chosen)
        ]


def _list_trades(compiled: Sequence[Mapping[str, Any]]) -> dict[str, list[Text]]:
    found: dict[str, list[Text]] = {}
    for one in compiled:
        for step in one["steps"]:
            found.setdefault(step["trade"], []).append(text_of(step["title"]))
    return {trade: list(dict.fromkeys(titles)) for trade, titles in found.items()}


def read_yard_name(store: Store, otherwise: str) -> str:
    """What the lead has called the yard; otherwise: the setting, which holds until then."""
    with store.reading() as connection:
        return get_yard_name(connection, otherwise)


def read_state(store: Store) -> YardState:
    with store.reading() as connection:
        return load_state(connection)


def load_state(connection: Connection) -> YardState:
    return YardState(
        facts=load_yard_facts(connection),
        people=people.list_people(connection),
        batches=batches.list_current_batches(connection),
        current=[found.compiled for found in checklists.list_current_definitions(connection)],
        phones=sum(phone.revoked_at is None for phone in devices.list_devices(connection)),
    )


def list_attributes(state: YardState) -> dict[str, list[Any]]:
    """{attribute of a batch: the values that some check waits for}, such as {"painted": [True]};
    what no check asks for is not offered.
    """
    found: dict[str, list[Any]] = {}
    for check in (check for one in state.chosen for check in one["checks"]):
        for key, value in check["when"].items():
            name = key.removeprefix("batch.")
            if key != name and value not in found.setdefault(name, []):
                found[name].append(value)
    return found
