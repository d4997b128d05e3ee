"""What is recorded of one batch at one stage, as the store counts it and the summary is made
from.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from qcapp.checklist.history import ChecklistHistory
from qcapp.checklist.model import Checklist
from qcapp.inspection.event import BUYERS_KINDS

SEVERITIES = ("critical", "major", "minor")


@dataclass(frozen=True)
class StovePass:
    """First pass of one stove. made, failed, missing: checks by severity; made ones gave pass, fail
    or doubtful, missing ones were not looked at. at: UTC text.
    """

    serial: str
    at: str
    failed: Mapping[str, int]
    missing: Mapping[str, int]
    made: Mapping[str, int]

    def is_looked_at(self, severity: str) -> bool:
        """Whether it belongs into a denominator: a fault was found, or a check was made and
        nothing was left out. Where nothing was asked, nothing was found either.
        """
        whole = self.missing[severity] == 0 and self.made[severity] > 0
        return self.failed[severity] > 0 or whole

    def is_asked(self, severity: str) -> bool:
        return self.made[severity] + self.missing[severity] + self.failed[severity] > 0

    @property
    def has_fail(self) -> bool:
        return any(self.failed.values())

    @property
    def faults(self) -> int:
        return sum(self.failed.values())


@dataclass(frozen=True)
class ResultGroup:
    """Checks at first pass that gave the same: `count` of them. value in the check's unit."""

    checklist_hash: str
    check_id: str
    part: str
    severity: str
    size: str
    verdict: str
    is_fail: bool
    fault: str | None
    value: float | None
    count: int


@dataclass(frozen=True)
class PhotoPass:
    """First pass of one stove, of which some answer keeps a photo. body: of the inspection."""

    checklist_hash: str
    body: Mapping[str, Any]


@dataclass(frozen=True)
class BuyersLook:
    """A stove as the buyer's inspector found it on a phone. answers: by check, as in an
    inspection.
    """

    serial: str
    at: str
    answers: Mapping[str, Any]


@dataclass(frozen=True)
class StoveEnd:
    """What became of a stove that was not simply released, and the reason given at the last
    inspection.
    """

    stove_key: str
    serial: str
    disposition: str
    reason: str | None


@dataclass(frozen=True)
class ConcededFault:
    """A failed check with which a stove was released by concession, as it was last looked at;
    value in the check's unit.
    """

    serial: str
    checklist_hash: str
    check_id: str
    severity: str
    fault: str | None
    value: float | None


@dataclass(frozen=True)
class ServerEvent:
    """A record the server made: plan, decision, recheck ... at: UTC text; by: code of who made it;
    replies: of the yard to what a buyer wrote, oldest first, where they were looked for.
    """

    seq: int
    hash: str
    kind: str
    by: str
    at: str
    body: Mapping[str, Any]
    replies: tuple["ServerEvent", ...] = ()


def list_buyers_words(events: Iterable[ServerEvent]) -> list[ServerEvent]:
    """What buyers wrote of a batch, each with the yard's replies, the newest first."""
    events = list(events)
    return [
        replace(word, replies=tuple(one for one in events if _answers(one, word)))
        for word in reversed(events)
        if word.kind in BUYERS_KINDS
    ]


def waits_for_reply(word: ServerEvent) -> bool:
    """Whether a question, a refusal or a re-check has no reply. That a buyer accepts asks none, nor
    does one stove that was found as agreed.
    """
    is_as_agreed = bool(word.body.get("stoves")) and not word.body["failed"]
    return not word.replies and word.body.get("answer") != "accept" and not is_as_agreed


def _answers(event: ServerEvent, word: ServerEvent) -> bool:
    return event.kind == "reply" and event.body["answers"] == word.hash


@dataclass(frozen=True)
class BatchCount:
    """One batch by one checklist: stoves inspected, good ones, faults, all at first pass."""

    code: str
    opened_on: str | None
    is_closed: bool
    checklist: str
    size: str
    inspected: int
    good: int
    faults: int


@dataclass(frozen=True)
class BatchOutline:
    """How a batch is inspected at one stage.

    batch: as the store gives it. checklists: by hash, those used (most stoves first), else the
    current one. server_events: oldest first; where no more is known, its plans alone.
    """

    batch: Mapping[str, Any]
    stage: str
    checklists: Mapping[str, Checklist]
    server_events: tuple[ServerEvent, ...]

    @property
    def checklist(self) -> Checklist:
        return next(iter(self.checklists.values()))

    @property
    def history(self) -> ChecklistHistory:
        """Those used, the one most stoves were inspected by as the current one."""
        (key, first), *others = self.checklists.items()
        return ChecklistHistory({key: first}, dict(others))

    @property
    def design(self) -> str:
        """Batches of one design are one series for the stages of sampling."""
        return f"{self.checklist.id}/{self.batch['size']}"

    def find_last(self, kind: str) -> ServerEvent | None:
        """The newest record of that kind."""
        return next((event for event in reversed(self.server_events) if event.kind == kind), None)


@dataclass(frozen=True)
class BatchFacts(BatchOutline):
    """One consistent view of a batch at one stage, with all records that the server made of it.

    dispositions: stoves by what became of them. released_later: released at a later
    inspection than the first. never_looked: {serial: {severity: checks}} of stoves that were
    released or conceded although checks were looked at in no inspection. open_fails: {"release" or
    "concession": {severity: stoves}} of those seen again whose last look at a check failed. photos:
    by serial, of conceded stoves. inspected_on: first and last day (ISO, UTC) of an inspection.
    buyers_looks: those of a phone that the buyer's inspector joined. rests_on: end of the log.
    earlier: the yard's batches of this checklist and size that were opened before and inspected
    stove by stove, oldest first.
    """

    server_id: str
    rests_on: tuple[int, str]
    dispositions: Mapping[str, int]
    released_later: int
    stoves: tuple[StovePass, ...]
    results: tuple[ResultGroup, ...]
    photo_passes: tuple[PhotoPass, ...]
    never_looked: Mapping[str, Mapping[str, int]]
    open_fails: Mapping[str, Mapping[str, int]]
    ends: tuple[StoveEnd, ...]
    conceded_faults: tuple[ConcededFault, ...]
    photos: Mapping[str, tuple[str, ...]]
    inspected_on: tuple[str, str] | None
    buyers_looks: tuple[BuyersLook, ...]
    inspectors: Mapping[str, int]
    quarantined: int
    earlier: tuple[BatchCount, ...]

    @property
    def inspected(self) -> int:
        return len(self.stoves)
