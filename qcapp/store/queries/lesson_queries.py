"""Parts of lessons, read from the records that added and took them back."""

from sqlalchemy import Connection

from qcapp.inspection.lesson_parts import LessonPart, read_lesson_parts
from qcapp.store.log import list_by_kind


def list_lesson_parts(connection: Connection) -> dict[str, list[LessonPart]]:
    """{step: its parts}."""
    return read_lesson_parts(list_by_kind(connection, "lesson_part"))


def list_parts_of_step(connection: Connection, step: str) -> list[LessonPart]:
    """Picture cards in their order, then the voice note; empty where the step has none."""
    return list_lesson_parts(connection).get(step, [])
