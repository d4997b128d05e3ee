"""Looking at the same stoves again without seeing earlier answers: who looks, in which order."""

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

# The study a random second look belongs to: it is planned by no one.
SECOND_LOOK = "second-look"
SECOND_LOOK_ONE_IN = 20
# The study a buyer's re-check of a batch belongs to: recheck:B5.
RECHECK = "recheck:"


@dataclass(frozen=True)
class Study:
    """stoves: serials; checks: ids of the checklist's; repeats: looks of each inspector at each
    stove.
    """

    id: str
    title: str
    planned_at: str
    checklist_hash: str
    batch: str
    stoves: tuple[str, ...]
    inspectors: tuple[str, ...]
    repeats: int
    checks: tuple[str, ...]
    seed: str
    is_open: bool


@dataclass(frozen=True)
class StudyAnswer:
    """answers: {check id: answer}, as in an inspection."""

    study: str
    stove: str
    inspector: str
    repeat: int
    captured_at: str
    answers: Mapping[str, Any]


def read_studies(events: Iterable[Mapping[str, Any]]) -> list[Study]:
    """Studies in log order from events of the kind study; a later {"closes": id} ends one."""
    kept = list(events)
    closed = {event["body"].get("closes") for event in kept}
    return [
        Study(
            id=event["id"],
            title=body["title"],
            planned_at=event["captured_at"],
            checklist_hash=body["checklist_hash"],
            batch=body["batch"],
            stoves=tuple(body["stoves"]),
            inspectors=tuple(body["inspectors"]),
            repeats=body["repeats"],
            checks=tuple(body["checks"]),
            seed=body["seed"],
            is_open=event["id"] not in closed,
        )
        for event in kept
        if not (body := event["body"]).get("closes")
    ]


def read_study_answers(events: Iterable[Mapping[str, Any]]) -> list[StudyAnswer]:
    """One for each look, from events of the kind study_answer in log order: the first that came
    counts, because a look that is given again is no longer blind.
    """
    found: dict[tuple[str, str, str, int], StudyAnswer] = {}
    for event in events:
        body = event["body"]
        key = (body["study"], body["stove"], event["inspector"], body["repeat"])
        answer = StudyAnswer(
            body["study"],
            body["stove"],
            event["inspector"],
            body["repeat"],
            event["captured_at"],
            body["answers"],
        )
        found.setdefault(key, answer)
    return list(found.values())


def order_looks(study: Study, inspector: str) -> list[tuple[str, int]]:
    """(stove, repeat) in the inspector's own order: every stove once in a mixed order, then again
    in another one. It follows from the seed alone, so that a lost phone changes nothing.
    """
    order: list[tuple[str, int]] = []
    for repeat in range(1, study.repeats + 1):
        mixed = sorted(
            study.stoves, key=lambda stove: _draw(f"{study.seed}/{inspector}/{repeat}/{stove}")
        )
        if order and len(mixed) > 1 and mixed[0] == order[-1][0]:
            # The same stove twice in a row would be remembered.
            mixed = [*mixed[1:], mixed[0]]
        order += [(stove, repeat) for stove in mixed]
    return order


def is_looked_at_twice(server_id: str, stove_key: str) -> bool:
    """Whether a stove is one of the one in twenty: by a hash, so that nobody chooses."""
    return _draw(f"{server_id}/second-look/{stove_key}") % SECOND_LOOK_ONE_IN == 0


def _draw(text: str) -> int:
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big")
