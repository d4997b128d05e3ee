"""What the lead decides about held stoves, one or several at once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput, Clash
from qcapp.i18n.phrase import phrase
from qcapp.inspection.held import OpenFindings, find_open_findings
from qcapp.inspection.stove import fold_stove
from qcapp.inspection.terms import DISPOSITIONS
from qcapp.store import log
from qcapp.store.engine import Connection, Store
from qcapp.store.queries import waiting
from qcapp.store.registry.checklists import load_checklists
from qcapp.sync.server_events import append_server_event


@dataclass(frozen=True)
class HeldStove:
    """A stove whose last inspection held it. seen: id of the newest content of that inspection;
    reason: why the inspector held it; visits: (checklist, body) of each inspection, newest first;
    photos: their names; decided: what the lead said since, as the fold gives it, or None.
    """

    key: str
    stage: str
    serial: str
    batch: str
    seen: str
    at: str
    inspector: str
    reason: str
    findings: OpenFindings
    visits: tuple[tuple[Checklist, Mapping[str, Any]], ...]
    photos: tuple[str, ...]
    decided: Mapping[str, Any] | None

    @property
    def name(self) -> str:
        """What a form sends of it: the stove, and what of it was seen."""
        return f"{self.key} {self.seen}"

    @property
    def choices(self) -> tuple[str, ...]:
        """Also held again, once something was decided."""
        return (*self.findings.choices, *(("hold",) if self.decided else ()))


def load_held(connection: Connection, batch: str) -> list[HeldStove]:
    """Of a batch, those that wait for a decision, by stage and serial."""
    return load_named(connection, waiting.list_held_keys(connection, batch))


def load_decided(connection: Connection, batch: str) -> list[HeldStove]:
    """Of a batch, those about which the lead decided."""
    return load_named(connection, waiting.list_decided_keys(connection, batch))


def load_named(connection: Connection, keys: Sequence[str]) -> list[HeldStove]:
    """Of the stoves of these keys those that are held, or would be without a decision."""
    events = log.list_stove_events(connection, keys)
    states = {key: fold_stove(events[key]) for key in keys}
    hashes = {one["checklist_hash"] for state in states.values() for one in state["inspections"]}
    checklists = load_checklists(connection, hashes)
    found = (_build_held(key, states[key], checklists) for key in keys)
    return [one for one in found if one is not None]


def _build_held(
    key: str, state: Mapping[str, Any], checklists: Mapping[str, Checklist]
) -> HeldStove | None:
    if not state["inspections"]:
        return None
    last = state["inspections"][-1]
    choice = last["body"]["disposition"]
    if choice["kind"] != "hold":
        return None
    return HeldStove(
        key,
        key.partition("/")[0],
        last["stove"],
        last["batch"],
        state["newest"],
        last["captured_at"],
        last["inspector"],
        choice.get("reason") or "",
        find_open_findings(state["inspections"], checklists),
        tuple(
            (checklists[one["checklist_hash"]], one["body"])
            for one in reversed(state["inspections"])
        ),
        tuple(photo for one in state["inspections"] for photo in one["photos"]),
        state["decided"],
    )


def decide_held(
    store: Store, names: Sequence[str], kind: str, reason: str, *, by: str, now: datetime
) -> None:
    """names: as HeldStove gives them. All of them, or none.

    Raises BadInput without a stove or a reason and where the rule does not allow it, Clash where
    something about a stove has changed since it was seen.
    """
    if not names:
        raise BadInput(
            phrase("no stove is chosen"), "stoves", phrase("tick the stoves that you decide about")
        )
    if not reason.strip():
        raise BadInput(
            phrase("a decision about a held stove needs a reason"),
            "reason",
            phrase("write why; the stove's page shows it"),
        )
    with store.writing() as connection:
        keys = [name.rpartition(" ")[0] for name in names]
        found = load_named(connection, list(dict.fromkeys(keys)))
        _refuse_changed(names, found)
        _refuse_not_allowed(found, kind)
        for one in found:
            append_server_event(
                connection,
                kind="hold_decision",
                recorder=by,
                body={"disposition": {"kind": kind, "reason": reason.strip()}},
                now=now,
                batch=one.batch,
                stage=one.stage,
                stove=one.serial,
                corrects=one.seen,
            )


def _refuse_changed(names: Sequence[str], found: Sequence[HeldStove]) -> None:
    changed = set(names) - {one.name for one in found}
    if changed:
        raise Clash(
            phrase("something about a stove has changed since you looked"),
            ", ".join(sorted(name.rpartition(" ")[0] for name in changed)),
            phrase("open the batch's page again, look at the stove, then decide"),
        )


def _refuse_not_allowed(found: Sequence[HeldStove], kind: str) -> None:
    refused = [one.serial for one in found if kind not in one.choices]
    if refused:
        raise BadInput(
            phrase(
                "%(kind)s is not possible with what was found on %(serials)s",
                kind=DISPOSITIONS.get(kind, kind),
                serials=refused,
            ),
            "kind",
            phrase("decide about these stoves on their own"),
        )
