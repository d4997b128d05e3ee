"""Agreement studies, read from the records that planned and closed them."""

from sqlalchemy import Connection

from qcapp.inspection.study import Study, StudyAnswer, read_studies, read_study_answers
from qcapp.store.log import list_by_kind


def list_studies(connection: Connection) -> list[Study]:
    """In the order they were planned."""
    return read_studies(list_by_kind(connection, "study"))


def list_study_answers(connection: Connection, *, newest: int | None = None) -> list[StudyAnswer]:
    """One for each look, in log order; of all answers, or the newest ones."""
    return read_study_answers(list_by_kind(connection, "study_answer", newest=newest))
