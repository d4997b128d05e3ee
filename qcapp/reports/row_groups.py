"""Whom a row is drawn for (a template, an artisan, kiln loads), and since when its row goes on."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from qcapp.i18n.phrase import phrase
from qcapp.inspection.observations import CheckObservation
from qcapp.inspection.pieces import LOAD_STAGE
from qcapp.reports.groups import People


@dataclass(frozen=True)
class Template:
    """What a step is marked out or cut with; the artisans who share it. since: ISO date or None.

    step: its id in every checklist that inspects this piece of work.
    """

    id: str
    step: str
    name: str
    artisans: frozenset[str]
    since: str | None = None


@dataclass(frozen=True)
class Replacement:
    """From this day on the step is done with a new or mended template: its rows begin anew."""

    id: str
    step: str
    artisans: frozenset[str]
    on: str
    note: str


@dataclass(frozen=True)
class Group:
    """kind: template, artisan or load; id: short, for addresses."""

    kind: str
    id: str
    title: str
    artisans: frozenset[str]


def list_groups(
    step: str,
    artisans: Iterable[str],
    stages: Iterable[str],
    templates: Sequence[Template],
    people: People,
) -> list[Group]:
    """Who and what a step's rows are drawn for: templates first, then artisans; a kiln load for a
    load.

    An artisan who alone uses a template, or alone tends the kiln, has no second row.
    """
    found = [
        Group(
            "template",
            template.id,
            f"{template.name} ({', '.join(sorted(template.artisans))})",
            template.artisans,
        )
        for template in templates
        if template.step == step
    ]
    working = frozenset(artisans)
    if working and set(stages) == {LOAD_STAGE}:
        found.append(Group("load", "all", phrase("Kiln loads"), working))
    single = {one for group in found if len(group.artisans) == 1 for one in group.artisans}
    return found + [
        Group(
            "artisan", code, f"{people.get(code, {}).get('name', code)} ({code})", frozenset([code])
        )
        for code in sorted(working - single)
    ]


def list_observed_groups(
    observations: Sequence[CheckObservation],
    step: str,
    templates: Sequence[Template],
    people: People,
) -> list[Group]:
    """The groups of those who did the step, at the stages where it was looked at."""
    artisans = {observation.artisan for observation in observations if observation.artisan}
    return list_groups(
        step, artisans, {observation.stage for observation in observations}, templates, people
    )


def is_since_restart(observation: CheckObservation, restarted_on: str | None) -> bool:
    """restarted_on: ISO date, as find_restart gives it."""
    return restarted_on is None or observation.captured_at[:10] >= restarted_on


def find_restart(step: str, group: Group, replacements: Sequence[Replacement]) -> str | None:
    """The newest day on which the step's template was replaced for everybody in the group."""
    days = [one.on for one in replacements if one.step == step and group.artisans <= one.artisans]
    return max(days, default=None)
