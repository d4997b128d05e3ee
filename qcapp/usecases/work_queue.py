"""What waits for the yard lead: each kind of work asked for by one function, most urgent first.

A further kind of work is one more function in SOURCES. It takes the Sources and gives its entries,
none where nothing waits; the start page needs no change. The number of statements must not grow
with the yard.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from urllib.parse import quote

from qcapp.i18n.phrase import Phrase, phrase, phrase_n
from qcapp.inspection.articles import count_articles
from qcapp.inspection.pieces import join_pieces
from qcapp.store import log
from qcapp.store.engine import Connection, Store
from qcapp.store.queries import batch_figures, summaries, waiting
from qcapp.store.queries.gauge_queries import list_gauges
from qcapp.store.registry import batches, devices
from qcapp.store.registry.batches import Batch
from qcapp.store.timestamps import format_timestamp, parse_timestamp
from qcapp.usecases.keep_backups import BackupState

# A yard works every day; after a week without a word a phone is lost, broken or put away.
SILENT_AFTER = timedelta(days=7)
# What a phone still had to send may be all there is of a day's work.
SILENT_WITH_UNSENT = timedelta(days=2)
REWORK_IS_LATE = timedelta(days=7)
# Those that wait longest; the start page is a list of what to do now.
MAX_OF_A_KIND = 20
MAX_NEAR = 100
# A batch closed longer ago without a summary was closed without one on purpose.
CLOSED_LATELY = timedelta(days=30)


@dataclass(frozen=True)
class WorkItem:
    """urgency: 1 is the most; since: UTC text, or None; href: the place where it is done."""

    urgency: int
    count: int
    text: Phrase
    since: str | None
    href: str
    button: Phrase


@dataclass(frozen=True)
class Sources:
    """near: batches that are open or were closed lately; backups: None where this server makes
    none.
    """

    connection: Connection
    now: datetime
    near: Sequence[Batch]
    backups: BackupState | None

    def is_older(self, moment: str, age: timedelta) -> bool:
        return self.now - parse_timestamp(moment) > age

    def count_days(self, moment: str) -> int:
        return max(0, (self.now - parse_timestamp(moment)).days)


def load_work(
    store: Store, *, now: datetime, backups: BackupState | None
) -> list[tuple[WorkItem, int | None]]:
    """[(item, days it has waited, None where that says nothing)]."""
    with store.reading() as connection:
        since = format_timestamp(now - CLOSED_LATELY)
        near = batches.list_open_since(connection, since, newest=MAX_NEAR)
        sources = Sources(connection, now, near, backups)
        found = [item for ask in SOURCES for item in ask(sources)]
    found.sort(key=lambda item: (item.urgency, item.since or "", item.href))
    return [(item, sources.count_days(item.since) if item.since else None) for item in found]


def _batch(code: str, place: str) -> str:
    return f"/batches/{quote(code)}{place}"


def list_buyers_words(sources: Sources) -> Iterable[WorkItem]:
    for word in waiting.list_open_words(sources.connection):
        refuses = word.body.get("answer") == "reject"
        if refuses:
            text = phrase("%(batch)s: the buyer refuses the batch", batch=word.batch)
        elif word.kind == "recheck":
            text = phrase("%(batch)s: the buyer checked stoves again", batch=word.batch)
        else:
            text = phrase("%(batch)s: the buyer has a question", batch=word.batch)
        place = _batch(word.batch, "#buyer")
        yield WorkItem(1 if refuses else 2, 1, text, word.at, place, phrase("Reply"))


def list_held_back(sources: Sources) -> Iterable[WorkItem]:
    found = log.find_waiting(sources.connection)
    if found.records:
        text = phrase_n("%(n)s record is held back", "%(n)s records are held back", found.records)
        yield WorkItem(3, found.records, text, found.since, "/yard/quarantine", phrase("Decide"))


def list_contradictions(sources: Sources) -> Iterable[WorkItem]:
    """Stoves that name one liner, or one shell: at most one of them can hold it."""
    claims = waiting.list_claims(sources.connection, [one["code"] for one in sources.near])
    serials = {claim.link.stove_key: claim.serial for claim in claims}
    _pieces, contradictions = join_pieces(claim.link for claim in claims)
    for group in contradictions:
        stoves = [key for key in group if key in serials]
        names = [serials[key] for key in stoves]
        text = phrase("These stoves name one and the same piece: %(names)s", names=names)
        stage = stoves[0].partition("/")[0]
        place = f"/stoves/{quote(stage)}/{quote(names[0])}"
        yield WorkItem(4, len(stoves), text, None, place, phrase("Look at them"))


def list_held_stoves(sources: Sources) -> Iterable[WorkItem]:
    held = waiting.list_waiting(sources.connection, "hold", limit=MAX_OF_A_KIND)
    for row in held:
        held_here = count_articles(row.articles, row.stage)
        text = phrase("%(batch)s: %(articles)s held", batch=row.batch, articles=held_here)
        place = _batch(row.batch, "#held")
        yield WorkItem(5, row.articles, text, row.since, place, phrase("Decide"))
    yield from _list_more(5, held)


def list_late_rework(sources: Sources) -> Iterable[WorkItem]:
    """The inspector sees rework on the phone; the lead is asked once it takes long."""
    before = format_timestamp(sources.now - REWORK_IS_LATE)
    late = waiting.list_waiting(sources.connection, "rework", limit=MAX_OF_A_KIND, before=before)
    for row in late:
        late_here = count_articles(row.articles, row.stage)
        text = phrase(
            "%(batch)s: %(articles)s waiting for rework", batch=row.batch, articles=late_here
        )
        place = _batch(row.batch, "?only=rework#stoves")
        yield WorkItem(8, row.articles, text, row.since, place, phrase("Show"))
    yield from _list_more(8, late)


def _list_more(urgency: int, rows: Sequence[waiting.WaitingArticles]) -> Iterable[WorkItem]:
    """One line for those that waited less long than the ones that have their own."""
    more = rows[0].places - len(rows) if rows else 0
    if more:
        text = phrase_n("Pieces wait at %(n)s more place", "Pieces wait at %(n)s more places", more)
        yield WorkItem(urgency, more, text, rows[-1].since, "/batches", phrase("All batches"))


def list_backup_problems(sources: Sources) -> Iterable[WorkItem]:
    state = sources.backups
    if state is None or not (state.is_late or state.problem or state.second_problem):
        return
    if state.is_late:
        text = phrase("No backup has been made for two days.")
    elif state.problem:
        text = phrase("The last backup found something wrong.")
    else:
        text = phrase("The second place for backups cannot be reached.")
    newest = format_timestamp(state.backups[0].made_at) if state.backups else None
    yield WorkItem(6, 1, text, newest, "/yard/backups", phrase("See the backups"))


def list_due_gauges(sources: Sources) -> Iterable[WorkItem]:
    """Templates and gauges due for a check: those outside their tolerance each by itself."""
    today = sources.now.date()
    due = [gauge for gauge in list_gauges(sources.connection) if gauge.is_due(today)]
    for gauge in [one for one in due if one.is_outside][:MAX_OF_A_KIND]:
        text = phrase("%(name)s is outside its tolerance", name=gauge.terms.name)
        place = f"/trainer/gauges/{quote(gauge.id)}"
        yield WorkItem(5, 1, text, _begin_of(gauge.due_on), place, phrase("Show"))
    late = [gauge for gauge in due if not gauge.is_outside]
    if late:
        names = [gauge.terms.name for gauge in late[:MAX_OF_A_KIND]]
        text = phrase_n(
            "%(n)s template or gauge is due for its check: %(names)s",
            "%(n)s templates and gauges are due for their check: %(names)s",
            len(late),
            names=names,
        )
        since = _begin_of(min(gauge.due_on for gauge in late))
        yield WorkItem(7, len(late), text, since, "/trainer/gauges", phrase("Show"))


def _begin_of(day: date) -> str:
    return format_timestamp(datetime(day.year, day.month, day.day, tzinfo=UTC))


def list_silent_phones(sources: Sources) -> Iterable[WorkItem]:
    """That a buyer's inspector has gone home is nothing to do, unless work is unsent."""
    for phone in devices.list_devices(sources.connection):
        seen = phone.last_seen_at or phone.joined_at
        age = SILENT_WITH_UNSENT if phone.unsent else SILENT_AFTER
        is_gone = phone.revoked_at or (phone.buyer_batch and not phone.unsent)
        if is_gone or not sources.is_older(seen, age):
            continue
        if phone.unsent:
            text = phrase_n(
                "%(phone)s has been silent, with %(n)s record to send",
                "%(phone)s has been silent, with %(n)s records to send",
                phone.unsent,
                phone=phone.name,
            )
        else:
            text = phrase("%(phone)s has been silent", phone=phone.name)
        yield WorkItem(7, 1, text, seen, "/yard", phrase("See the phones"))


def list_ready_batches(sources: Sources) -> Iterable[WorkItem]:
    """Batches of which every stove is inspected and none waits, but no summary was issued."""
    codes = [batch["code"] for batch in sources.near]
    issued = summaries.list_batches_with(sources.connection, codes)
    states = batch_figures.list_stove_states(sources.connection, *codes)
    for batch in sources.near:
        here = [row for row in states if row.batch == batch["code"]]
        if batch["code"] not in issued and _is_finished(batch["planned"], here):
            text = phrase("%(batch)s: every stove is inspected, none waits", batch=batch["code"])
            place = _batch(batch["code"], "/issue")
            yield WorkItem(9, 1, text, None, place, phrase("Preview the summary"))


def _is_finished(planned: int, states: Iterable[batch_figures.StoveState]) -> bool:
    inspected: dict[str, int] = {}
    for row in states:
        if row.disposition in ("rework", "hold"):
            return False
        inspected[row.stage] = inspected.get(row.stage, 0) + row.stoves
    return inspected.get("finished", max(inspected.values(), default=0)) >= planned


SOURCES: tuple[Callable[[Sources], Iterable[WorkItem]], ...] = (
    list_buyers_words,
    list_held_back,
    list_contradictions,
    list_held_stoves,
    list_late_rework,
    list_backup_problems,
    list_due_gauges,
    list_silent_phones,
    list_ready_batches,
)
