"""Agreement studies: one consistent view of them, and of one inspector's sheet in one."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.model import Checklist
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.study import Study, StudyAnswer, order_looks
from qcapp.reports.agreement import ReadingAgreement
from qcapp.reports.studies import StudyReport, build_study_report
from qcapp.store.engine import Store
from qcapp.store.queries.studies import list_studies, list_study_answers
from qcapp.store.registry import batches, checklists, people


@dataclass(frozen=True)
class StudyContext:
    """Studies newest first, answers, what they are held against. batches: the studies' own."""

    studies: tuple[Study, ...]
    answers: tuple[StudyAnswer, ...]
    current: tuple[Checklist, ...]
    checklists: Mapping[str, Checklist]
    people: Mapping[str, Mapping[str, Any]]
    batches: Mapping[str, Mapping[str, Any]]

    def get_study(self, study_id: str) -> Study:
        """Raises NotFound."""
        found = next((study for study in self.studies if study.id == study_id), None)
        if found is None or found.checklist_hash not in self.checklists:
            raise NotFound(
                phrase("there is no such study"), study_id, phrase("see the list of studies")
            )
        return found

    def build_report(self, study: Study) -> StudyReport:
        batch = self.batches.get(study.batch, {"size": "", "attributes": {}})
        asked = {"size": batch["size"], "batch": batch["attributes"]}
        checklist = self.checklists[study.checklist_hash]
        return build_study_report(study, self.answers, checklist, asked)

    def list_checks(self, study: Study) -> list[Check]:
        """Those that an inspector answers; the calculated ones follow from them."""
        known = self.checklists[study.checklist_hash].check_by_id
        return [
            known[check]
            for check in study.checks
            if check in known and known[check].answer_key is not None
        ]

    def list_done(self, study: Study, inspector: str) -> set[tuple[str, int]]:
        """(stove, repeat) of the looks that are recorded."""
        return {
            (answer.stove, answer.repeat)
            for answer in self.answers
            if (answer.study, answer.inspector) == (study.id, inspector)
        }

    def count_done(self) -> dict[str, int]:
        """Looks that are recorded, by study."""
        counts: dict[str, int] = {}
        for answer in self.answers:
            counts[answer.study] = counts.get(answer.study, 0) + 1
        return counts

    def find_reading_study(
        self, hashes: Collection[str], check: str, size: str
    ) -> tuple[Study, ReadingAgreement] | None:
        """The newest study in which two inspectors or more read this check at this size, by one of
        these revisions, and what it found.
        """
        for study in self.studies:
            batch = self.batches.get(study.batch, {"size": ""})
            if (
                study.checklist_hash in hashes
                and check in study.checks
                and study.checklist_hash in self.checklists
                and batch["size"] == size
            ):
                rows = self.build_report(study).checks
                found = next((row.readings for row in rows if row.check.id == check), None)
                if found:
                    return study, found
        return None


@dataclass(frozen=True)
class StudySheet:
    """One inspector's sheet. order: (stove, repeat) of each look as it is to be made; done: those
    that are recorded; name: the inspector's.
    """

    study: Study
    inspector: str
    name: str
    order: Sequence[tuple[str, int]]
    checks: Sequence[Check]
    done: set[tuple[str, int]]


def load_studies(store: Store) -> StudyContext:
    with store.reading() as connection:
        studies = list_studies(connection)
        return StudyContext(
            studies=tuple(studies[::-1]),
            answers=tuple(list_study_answers(connection)),
            current=tuple(checklists.list_current_checklists(connection)),
            checklists=checklists.load_checklists(
                connection, {study.checklist_hash for study in studies}
            ),
            people={person["code"]: person for person in people.list_people(connection)},
            batches={
                batch["code"]: batch
                for batch in batches.list_named_batches(
                    connection, {study.batch for study in studies}
                )
            },
        )


def list_batches_to_study(store: Store, checklist: Checklist) -> list[batches.Batch]:
    """Those whose stoves are still at hand, of sizes that the checklist has limits for."""
    with store.reading() as connection:
        current = batches.list_current_batches(connection)
    return [batch for batch in current if batch["size"] in checklist.sizes]


def load_study_sheet(store: Store, study_id: str, inspector: str) -> StudySheet:
    """Raises NotFound."""
    context = load_studies(store)
    study = context.get_study(study_id)
    if inspector not in study.inspectors:
        raise NotFound(
            phrase("this inspector is not in the study"), inspector, phrase("see the study's page")
        )
    return StudySheet(
        study,
        inspector,
        context.people.get(inspector, {}).get("name", inspector),
        order_looks(study, inspector),
        context.list_checks(study),
        context.list_done(study, inspector),
    )
