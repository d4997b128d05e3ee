"""The yards of a programme side by side: each in a few counts, and like compared with like."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from qcapp.checklist.model import Checklist
from qcapp.errors import StoreError
from qcapp.reports.programme import KeptLog, YardLine, build_yard_line
from qcapp.reports.yard_comparison import Comparison, YardCount, build_comparison, list_groups
from qcapp.store.engine import Connection, Store
from qcapp.store.queries.batch_series import list_sampled
from qcapp.store.queries.overview import FirstPasses, count_yard, list_first_passes
from qcapp.store.registry.checklists import load_checklists
from qcapp.store.registry.seen_checkpoints import SeenCheckpoint, list_seen
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.watch_yard import list_broken

SILENT_DAYS = 7
Yards = Mapping[str, tuple[str, Store]]


@dataclass(frozen=True)
class Group:
    """What can be compared: a published checklist and a size, with the yards that use them."""

    checklist: Checklist
    size: str
    yards: int
    is_same_name: bool

    @property
    def key(self) -> str:
        return f"{self.checklist.hash[:16]}.{self.size}"


@dataclass(frozen=True)
class ProgrammeView:
    """lines: all yards by name. groups: largest first. chosen, comparison: None without a stove in
    the period.
    """

    lines: Sequence[YardLine]
    groups: Sequence[Group]
    chosen: Group | None
    comparison: Comparison | None


@dataclass(frozen=True)
class _Read:
    line: YardLine
    counts: Sequence[YardCount] = ()
    checklists: Mapping[str, Checklist] | None = None


def load_programme(
    programme: Store, yards: Yards, *, days: int, key: str, min_count: int, now: datetime
) -> ProgrammeView:
    """programme: its own store. yards: {address: (name, store)}. days: of the period. key: of a
    group, "" for the largest.
    """
    since = format_timestamp(now - timedelta(days=days))
    with programme.reading() as connection:
        seen = {address: list_seen(connection, address) for address in yards}
    read = [
        _read_yard(name, address, store, seen[address], since=since, min_count=min_count, now=now)
        for address, (name, store) in yards.items()
    ]
    read.sort(key=lambda one: one.line.name)
    counts = [count for one in read for count in one.counts]
    known = {key: found for one in read for key, found in (one.checklists or {}).items()}
    groups = _list_groups(counts, known)
    chosen = next((group for group in groups if group.key == key), next(iter(groups), None))
    comparison = (
        build_comparison(counts, chosen.checklist.hash, chosen.size, min_count) if chosen else None
    )
    return ProgrammeView([one.line for one in read], groups, chosen, comparison)


def _read_yard(
    name: str,
    address: str,
    store: Store,
    seen: list[SeenCheckpoint],
    *,
    since: str,
    min_count: int,
    now: datetime,
) -> _Read:
    """A yard whose database cannot be read must not hide the others."""
    silent_before = format_timestamp(now - timedelta(days=SILENT_DAYS))
    try:
        with store.reading() as connection:
            found = count_yard(connection, silent_before=silent_before)
            passes = _list_whole_passes(connection, since)
            checklists = load_checklists(connection, {one.checklist_hash for one in passes})
            broken = list_broken(connection, seen)
    except StoreError as error:
        return _Read(YardLine(name, address, error=error.what))
    counts = [
        YardCount(
            name,
            one.checklist_hash,
            one.size,
            one.month,
            one.failed,
            one.inspected - one.failed - one.unsure,
            one.unsure,
        )
        for one in passes
    ]
    kept = [KeptLog(one.size, one.seen_at, one.note, one not in broken) for one in seen]
    line = build_yard_line(name, address, found, min_count=min_count, seen=kept)
    return _Read(line, counts, checklists)


def _list_whole_passes(connection: Connection, since: str) -> list[FirstPasses]:
    """Without batches inspected by sample: most of their stoves had a short check."""
    passes = list_first_passes(connection, since)
    sampled = list_sampled(connection, {one.batch for one in passes})
    return [one for one in passes if (one.batch, one.stage) not in sampled]


def _list_groups(counts: Sequence[YardCount], known: Mapping[str, Checklist]) -> list[Group]:
    found = [(key, size) for key, size in list_groups(counts) if key in known]
    numbers = Counter((known[key].id, known[key].revision) for key in {key for key, _ in found})
    return [
        Group(
            known[key],
            size,
            len({one.yard for one in counts if (one.checklist, one.size) == (key, size)}),
            # Two yards may have given one number to different contents.
            numbers[known[key].id, known[key].revision] > 1,
        )
        for key, size in found
    ]
