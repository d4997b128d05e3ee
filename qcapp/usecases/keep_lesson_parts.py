"""Picture cards and a voice note for a step's lesson: added, taken back, with who and when."""

from datetime import datetime

from qcapp.checklist.history import list_works
from qcapp.errors import BadInput, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.lesson_parts import MAX_PICTURES, LessonPart
from qcapp.store.engine import Connection, Store
from qcapp.store.queries.lesson_queries import list_lesson_parts, list_parts_of_step
from qcapp.store.registry.checklists import load_history
from qcapp.store.registry.lesson_media import Media, delete_all_but, find_media, keep_media
from qcapp.sync.lesson_media import check_voice, make_picture
from qcapp.sync.server_events import append_server_event

MAX_CAPTION = 120


def load_lesson_parts(store: Store, step: str) -> list[LessonPart]:
    with store.reading() as connection:
        return list_parts_of_step(connection, step)


def load_media(store: Store, sha256: str) -> Media:
    """Raises NotFound."""
    with store.reading() as connection:
        found = find_media(connection, sha256)
    if found is None:
        raise NotFound(
            phrase("there is no such picture or voice note"),
            sha256[:64],
            phrase("reload the page of the step"),
        )
    return found


def add_picture(
    store: Store, step: str, content: bytes, caption: str, *, by: str, now: datetime
) -> None:
    """Raises BadInput; NotFound for a step that no checklist in use has."""
    if not 0 < len(caption) <= MAX_CAPTION:
        raise BadInput(
            phrase("a picture needs a caption of at most %(n)s characters", n=MAX_CAPTION),
            "caption",
            phrase("write what to see in it"),
        )
    media = make_picture(content)
    with store.writing() as connection:
        _check_step(connection, step)
        own = list_parts_of_step(connection, step)
        if sum(part.kind == "picture" for part in own) >= MAX_PICTURES:
            raise BadInput(
                phrase("the lesson has %(n)s pictures already", n=MAX_PICTURES),
                "picture",
                phrase("delete one first"),
            )
        _record(connection, step, "picture", media, caption, by=by, now=now)


def put_voice(store: Store, step: str, content: bytes, *, by: str, now: datetime) -> None:
    """In place of the one that there was. Raises as add_picture."""
    media = check_voice(content)
    with store.writing() as connection:
        _check_step(connection, step)
        for part in list_parts_of_step(connection, step):
            if part.kind == "voice":
                _withdraw(connection, part, by=by, now=now)
        _record(connection, step, "voice", media, "", by=by, now=now)
        _delete_unused(connection)


def delete_part(store: Store, step: str, part_id: str, *, by: str, now: datetime) -> None:
    """Its bytes go too, unless another lesson shows the same. Raises NotFound."""
    with store.writing() as connection:
        own = {part.id: part for part in list_parts_of_step(connection, step)}
        if part_id not in own:
            raise NotFound(
                phrase("there is no such part of the lesson"),
                part_id,
                phrase("reload the page of the step"),
            )
        _withdraw(connection, own[part_id], by=by, now=now)
        _delete_unused(connection)


def _check_step(connection: Connection, step: str) -> None:
    if step not in list_works(load_history(connection).current.values()):
        raise NotFound(
            phrase("there is no such step"), step, phrase("see the list of steps under Teach next")
        )


def _record(
    connection: Connection,
    step: str,
    kind: str,
    media: Media,
    caption: str,
    *,
    by: str,
    now: datetime,
) -> None:
    body = {
        "step": step,
        "kind": kind,
        "sha256": keep_media(connection, media),
        "type": media.type,
        "size": len(media.content),
        "caption": caption,
    }
    append_server_event(connection, kind="lesson_part", recorder=by, body=body, now=now)


def _withdraw(connection: Connection, part: LessonPart, *, by: str, now: datetime) -> None:
    body = {"withdraws": part.id}
    append_server_event(connection, kind="lesson_part", recorder=by, body=body, now=now)


def _delete_unused(connection: Connection) -> None:
    used = {part.sha256 for parts in list_lesson_parts(connection).values() for part in parts}
    delete_all_but(connection, used)
