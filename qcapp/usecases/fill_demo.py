"""The demo: an invented yard pushed into a scratch database as phones would push it."""

import secrets
from collections.abc import Callable, Iterator
from datetime import date, datetime
from pathlib import Path

from qcapp.access.summary_links import make_summary_link
from qcapp.errors import BadInput, Clash
from qcapp.scenario.model import Scenario, load_scenario
from qcapp.settings import Settings, find_shipped
from qcapp.store import log
from qcapp.store.db_errors import get_short_name
from qcapp.store.engine import Connection, Store, has_tables
from qcapp.store.queries import summaries
from qcapp.store.queries.overview import count_finished_stoves
from qcapp.store.registry import batches, checklists, devices, people
from qcapp.store.registry.facts import DEMO_DAY, DEMO_FILLED, find_fact, set_fact
from qcapp.store.registry.yard_facts import save_yard_facts
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.card_lot import find_lot
from qcapp.usecases.fill_demo_yard import Demo, fill_demo_yard
from qcapp.usecases.give_card import give_card_link
from qcapp.usecases.issue_summary import issue_summary
from qcapp.usecases.kept_drawings import KeptDrawings
from qcapp.usecases.open_store import open_store
from qcapp.usecases.yard_state import load_state

# Called with what goes on, how many are done, how many there are.
Progress = Callable[[str, int, int], None]
SCENARIO = find_shipped("demo") / "scenario.yaml"


def prepare_demo(
    settings: Settings, *, fresh: bool, now: datetime, progress: Progress | None = None
) -> tuple[Settings, dict[str, int]]:
    """Fills the database unless it is filled already; an interrupted filling is gone on with.

    Gives the demo's settings and {"batches", "stoves", "records"}. Raises Clash when the
    database holds records that are not a demo's.
    """
    scenario = load_scenario(SCENARIO)
    settings = settings.model_copy(
        update={"yard_name": scenario.yard.name, "key_file": _find_key(settings)}
    )
    if fresh:
        _remove(settings.database_url)
    store = open_store(settings)
    today = _claim(store, settings.database_url, now)
    for done, total in _fill(store, settings, scenario, today, now):
        if progress:
            progress("filling the yard, records", done, total)
    with store.reading() as connection:
        figures = {
            "batches": len(batches.list_batches(connection)),
            "stoves": count_finished_stoves(connection),
            "records": log.get_head(connection).seq,
        }
    store.close()
    return settings, figures


def _find_key(settings: Settings) -> Path:
    """An invented yard must not sign with a real yard's key: its own stands beside its database."""
    path = settings.database_url.removeprefix("sqlite:///")
    if "key_file" in settings.model_fields_set or path in ("", ":memory:") or "://" in path:
        return settings.key_file
    return Path(path).with_suffix(".pem")


def _remove(url: str) -> None:
    """Deletes the demo's SQLite file, after making sure that it is a demo's."""
    path = Path(url.removeprefix("sqlite:///"))
    if not url.startswith("sqlite"):
        raise BadInput(
            "this command can delete only a SQLite file",
            get_short_name(url),
            "delete the database with dropdb and make it again with createdb",
        )
    if not url.startswith("sqlite:///") or not path.exists():
        return
    store = Store(url)
    with store.reading() as connection:
        known = has_tables(connection)
        marked = known and find_fact(connection, DEMO_DAY)
        records = log.get_head(connection).seq if known else 1
    store.close()
    if not marked and records:
        raise Clash(
            "this database is not from a demo",
            get_short_name(url),
            "name another one; nothing was deleted",
        )
    for ending in ("", "-wal", "-shm"):
        Path(f"{path}{ending}").unlink(missing_ok=True)


def _claim(store: Store, url: str, now: datetime) -> date:
    """Marks the database as a demo's; gives the day for which its yard is invented."""
    with store.writing() as connection:
        day = find_fact(connection, DEMO_DAY)
        if day is None:
            if log.get_head(connection).seq:
                raise Clash(
                    "this database has records that are not from a demo",
                    get_short_name(url),
                    "name another database",
                )
            day = now.date().isoformat()
            set_fact(connection, DEMO_DAY, day)
            # An invented yard is set up already.
            save_yard_facts(connection, is_ended=True)
    return date.fromisoformat(day)


def _fill(
    store: Store, settings: Settings, scenario: Scenario, today: date, now: datetime
) -> Iterator[tuple[int, int]]:
    with store.writing() as connection:
        if find_fact(connection, DEMO_FILLED):
            return
        people.save_people(connection, scenario.list_people(today))
        batches.save_batches(connection, scenario.list_batches(today))
        _set_up(connection, scenario)
        for device in scenario.devices:
            devices.save_device(
                connection,
                device_id=device.id,
                name=device.name,
                token_hash=secrets.token_hex(32),
                now=format_timestamp(now),
            )
        shipped = checklists.list_current_checklists(connection)

    kept = KeptDrawings(store)
    drawings = {one.drawing: kept.get(one) for one in shipped}
    demo = Demo(store, settings, scenario, shipped, drawings, today, now)
    yield from fill_demo_yard(demo)
    with store.writing() as connection:
        set_fact(connection, DEMO_FILLED, format_timestamp(now))


def _set_up(connection: Connection, scenario: Scenario) -> None:
    """All that the guided start asks, so that no page of the demo says that it is still to do.
    Where several do a trade it differs from stove to stove who does it.
    """
    state = load_state(connection)
    crew = {}
    for trade in state.trades:
        able = state.list_of_trade(trade)
        crew[trade] = able[0]["code"] if len(able) == 1 else ""
    save_yard_facts(
        connection,
        name=scenario.yard.name,
        sizes=state.sizes,
        checklist_ids=[one["id"] for one in state.current],
        crew=crew,
        is_practised=True,
        **scenario.yard.for_buyers,
    )


def give_to_artisan(store: Store, settings: Settings, now: datetime) -> str:
    """The token of a link to the first card that the lot gave."""
    with store.reading() as connection:
        lot = find_lot(connection)
    if lot is None:
        raise Clash("no lot was drawn in this demo", get_short_name(store.url), "fill it anew")
    artisan = lot.first[0]
    return give_card_link(store, settings, artisan, language="", by="lead", now=now)


def give_to_buyer(store: Store, settings: Settings, now: datetime) -> str:
    """The token of a link to the newest closed batch; its summary is issued where there is none."""
    with store.reading() as connection:
        batch = next(found for found in batches.list_batches(connection) if found["closed_at"])
        is_issued = bool(summaries.list_summaries(connection, batch["code"]))
    if not is_issued:
        issue_summary(store, settings, batch, issued_by="lead", now=now)
    return make_summary_link(
        store,
        batch=batch["code"],
        label="The demo's buyer",
        made_by="lead",
        days=settings.link_days,
        now=now,
    )
