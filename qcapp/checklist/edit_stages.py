"""How far the pieces of a checklist in the making are made, and what it goes on from."""

import copy
from collections.abc import Mapping
from typing import Any

from qcapp.checklist.draft_fields import Source

# How an earlier stage is joined: its pieces are built in, with serials of their own; or it is the
# same piece, under the same serial.
JOINTS = ("made_from", "same_serial")
# Earlier checks that should have caught a check's faults.
CATCHERS = "should_be_caught_by"


def read_joints(source: Mapping[str, Any]) -> dict[str, str]:
    """{earlier stage: made_from or same_serial}, in the order of the checklist."""
    return {stage: joint for joint in JOINTS for stage in source.get(joint, ())}


def set_stages(source: Mapping[str, Any], stage: str, joints: Mapping[str, str]) -> Source:
    """A source of this stage, with each earlier stage joined as `joints` says, empty for not at
    all; one that it does not name stays. A stage is never its own earlier one. Checks name no
    check of a stage that is joined no more.
    """
    changed = copy.deepcopy(dict(source))
    changed["stage"] = stage
    joined = {
        name: joint
        for name, joint in (read_joints(source) | dict(joints)).items()
        if joint in JOINTS and name != stage
    }
    for joint in JOINTS:
        _put(changed, joint, [name for name, how in joined.items() if how == joint])
    for check in changed["checks"]:
        _keep_catchers(check, joined)
    return changed


def _keep_catchers(check: Source, joined: Mapping[str, str]) -> None:
    named = check.get(CATCHERS, {})
    _put(check, CATCHERS, {stage: ids for stage, ids in named.items() if stage in joined})


def _put(owner: Source, name: str, value: Any) -> None:
    """What stands there keeps its place."""
    if value:
        owner[name] = value
    else:
        owner.pop(name, None)
