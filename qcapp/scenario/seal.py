"""Records of the invented yard: numbered, hashed, as its phones would send them."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from qcapp.inspection.event import EventContent, build_uuid7
from qcapp.scenario.model import Scenario, ScenarioDevice, utc_text
from qcapp.scenario.schedule import Work


@dataclass(frozen=True)
class Record:
    """An event before it has its number and seal. work: None where it is not about one article as
    it goes through the yard, but a look at it for a study.
    """

    id: str
    kind: str
    device: ScenarioDevice
    captured_at: datetime
    body: Mapping[str, Any]
    work: Work | None
    corrects: str | None = None


def make_record(
    work: Work, kind: str, at: datetime, body: Mapping[str, Any], corrects: str | None = None
) -> Record:
    return Record(
        build_id(at, work.rng.getrandbits(80)), kind, work.device, at, body, work, corrects
    )


def build_id(at: datetime, bits: int) -> str:
    """bits: 80 of them."""
    return build_uuid7(int(at.timestamp() * 1000), bits)


def seal_records(scenario: Scenario, records: Iterable[Record]) -> list[dict[str, Any]]:
    """Number each device's records in the order of capture and add their hashes."""
    numbers: dict[str, int] = defaultdict(int)
    events = []
    for record in sorted(records, key=lambda record: (record.captured_at, record.id)):
        numbers[record.device.id] += 1
        content = EventContent(
            id=record.id,
            kind=record.kind,
            device_id=record.device.id,
            dev_seq=numbers[record.device.id],
            inspector=record.device.inspector,
            captured_at=utc_text(record.captured_at),
            app_build=scenario.app_build,
            body=record.body,
            tz_min=scenario.yard.tz_min,
            corrects=record.corrects,
            photos=_list_photos(record.body),
            **_name_article(record.work),
        )
        events.append(content.seal())
    return events


def _name_article(work: Work | None) -> dict[str, Any]:
    if work is None:
        return {}
    return {
        "batch": work.batch.code,
        "stage": work.checklist.stage,
        "stove": work.stove,
        "checklist": work.checklist.key,
        "checklist_hash": work.checklist.hash,
    }


def _list_photos(body: Mapping[str, Any]) -> list[str]:
    """Of the answers, as a phone lists them; a correction's are in what it puts in their place."""
    answers = body.get("replacement", body).get("answers", {})
    names = (name for answer in answers.values() for name in answer.get("photos", ()))
    return list(dict.fromkeys(names))
