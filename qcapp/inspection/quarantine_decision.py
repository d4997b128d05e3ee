"""What a person may mend in a record set aside: names that this yard does not know.

A mapping is {"artisan": {name in the record: code here}, "inspector": {...}, "batch": {...}}; kinds
without an entry may be absent. The record itself stays as it came; what counts is a copy.
"""

from collections.abc import Collection, Mapping
from typing import Any

from qcapp.inspection.event import seal_event


def apply_mapping(
    content: Mapping[str, Any], mapping: Mapping[str, Mapping[str, str]]
) -> dict[str, Any]:
    """The event of `content` with other names, sealed anew; id and all else stay."""
    changed = dict(content)
    for field in ("inspector", "batch"):
        changed[field] = mapping.get(field, {}).get(changed[field], changed[field])
    crew = _find_body(content).get("crew")
    if crew is not None:
        names = mapping.get("artisan", {})
        part = {
            **_find_body(content),
            "crew": {step: names.get(artisan, artisan) for step, artisan in crew.items()},
        }
        changed["body"] = (
            {**content["body"], "replacement": part} if content["kind"] == "correction" else part
        )
    return seal_event(changed)


def find_strangers(
    content: Mapping[str, Any], people: Collection[str], batches: Collection[str]
) -> dict[str, list[str]]:
    """Names of a well-formed event that are not known here, by kind of name; kinds without one
    absent.
    """
    crew = _find_body(content).get("crew", {})
    found = {
        "artisan": sorted(set(crew.values()) - set(people)),
        "inspector": [content["inspector"]] if content["inspector"] not in people else [],
        "batch": [content["batch"]]
        if content["batch"] is not None and content["batch"] not in batches
        else [],
    }
    return {kind: names for kind, names in found.items() if names}


def _find_body(content: Mapping[str, Any]) -> Mapping[str, Any]:
    """What was seen of the stove: of an inspection its body, of a correction the new one."""
    body = content["body"]
    return (
        body["replacement"]
        if content["kind"] == "correction"
        else body
        if content["kind"] == "inspection"
        else {}
    )
