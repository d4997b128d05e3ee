"""Loads what the pages about measuring are made from: observations, templates, checklists,
people.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any
from weakref import WeakKeyDictionary

from qcapp.checklist.history import ChecklistHistory, list_works
from qcapp.checklist.items import Step
from qcapp.inspection.observations import CheckObservation
from qcapp.reports.drift import DriftReport, build_drift_report
from qcapp.reports.lessons import Lesson
from qcapp.reports.passes import build_passes
from qcapp.reports.row_groups import Replacement, Template
from qcapp.reports.series import build_series
from qcapp.settings import Settings
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.queries.observations import list_observations
from qcapp.store.registry import checklists, people

# Half a year of a small yard: enough to see wear, few enough to stand on one page.
NEWEST = 1200


@dataclass(frozen=True)
class Measuring:
    """One consistent view of the newest first passes."""

    min_count: int
    history: ChecklistHistory
    people: Mapping[str, Mapping[str, Any]]
    observations: tuple[CheckObservation, ...]
    templates: tuple[Template, ...]
    replacements: tuple[Replacement, ...]
    lessons: tuple[Lesson, ...]

    @cached_property
    def works(self) -> dict[str, list[Step]]:
        """What a template can be for: steps by id, whichever checklists inspect them."""
        return list_works(self.history.current.values())

    @cached_property
    def drift(self) -> DriftReport:
        facts = (self.templates, self.replacements, self.people)
        return build_drift_report(
            build_series(self.observations, self.history, *facts),
            build_passes(self.observations, self.history, *facts),
            min_count=self.min_count,
        )


# The last view of each database: it holds until something it is made of changes, so a trainer who
# goes from chart to chart waits once. Figures are a function of the log; people and checklists may
# change beside it.
_KEPT: WeakKeyDictionary[Store, tuple[tuple[Any, ...], Measuring]] = WeakKeyDictionary()


def load_measuring(store: Store, settings: Settings) -> Measuring:
    with store.reading() as connection:
        known, current = people.list_people(connection), checklists.list_current_hashes(connection)
        made_of = (
            log.get_head(connection),
            settings.min_count,
            known,
            current,
        )
        kept = _KEPT.get(store)
        if kept and kept[0] == made_of:
            return kept[1]
        measuring = Measuring(
            min_count=settings.min_count,
            history=checklists.load_history(connection),
            people={person["code"]: person for person in known},
            observations=tuple(list_observations(connection, newest=NEWEST)),
            templates=read_templates(log.list_by_kind(connection, "template")),
            replacements=tuple(
                Replacement(
                    event["id"], body["step"], frozenset(body["artisans"]), body["on"], body["note"]
                )
                for event, body in _list_standing(log.list_by_kind(connection, "template_replaced"))
            ),
            lessons=tuple(
                Lesson(event["id"], body["held_on"], body["step"], tuple(body["people"]), "")
                for event, body in _list_standing(log.list_by_kind(connection, "lesson"))
            ),
        )
    _KEPT[store] = (made_of, measuring)
    return measuring


def read_templates(events: Iterable[Mapping[str, Any]]) -> tuple[Template, ...]:
    """Those still used as they were noted, from events of the kind template in log order."""
    return tuple(
        Template(event["id"], body["step"], body["name"], frozenset(body["artisans"]))
        for event, body in _list_standing(list(events))
    )


def _list_standing(
    events: Iterable[Mapping[str, Any]],
) -> list[tuple[Mapping[str, Any], Mapping[str, Any]]]:
    """(event, body) of those not withdrawn by a later one."""
    struck = {event["body"].get("withdraws") for event in events}
    return [
        (event, event["body"])
        for event in events
        if not event["body"].get("withdraws") and event["id"] not in struck
    ]
