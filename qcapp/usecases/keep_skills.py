"""The skill sheet: what the trainer set, with the evidence beside; set a skill."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.reports.skills import LEVELS, Skill, SkillBlock, build_skill_blocks
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.sync.server_events import record_server_event
from qcapp.usecases.trainer_figures import TrainerFigures


def load_skills(store: Store, figures: TrainerFigures) -> list[SkillBlock]:
    with store.reading() as connection:
        skills = _read_skills(log.list_by_kind(connection, "skill"))
    return build_skill_blocks(figures.works, figures.tallies, skills, figures.people)


def _read_skills(events: Iterable[Mapping[str, Any]]) -> dict[tuple[str, str], Skill]:
    """By (artisan, step id), as set last."""
    found: dict[tuple[str, str], Skill] = {}
    for event in events:
        body = event["body"]
        key = (body["artisan"], body["step"])
        found.pop(key, None)
        if body["level"] is not None:
            found[key] = Skill(body["level"], event["captured_at"][:10], event["inspector"])
    return found


def set_skill(
    store: Store,
    figures: TrainerFigures,
    *,
    artisan: str,
    step: str,
    level: str,
    by: str,
    now: datetime,
) -> None:
    """level: a key of LEVELS, or empty to take it back. Raises BadInput."""
    known = figures.people.get(artisan)
    if step not in figures.works or known is None or not known["trades"]:
        raise BadInput(
            phrase("there is no such step or artisan"),
            f"{step}, {artisan}",
            phrase("choose from the lists"),
        )
    if level and level not in LEVELS:
        raise BadInput(
            phrase("this is no level of a skill"), level, phrase("choose one on the sheet")
        )
    body = {"artisan": artisan, "step": step, "level": level or None}
    record_server_event(store, kind="skill", recorder=by, body=body, now=now)
