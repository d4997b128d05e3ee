"""A yard carried to another database: nothing differs, nothing is lost half-way,
and no other yard is touched.
"""

import hashlib

import pytest
from sqlalchemy import func, select, update
from sqlmodel import SQLModel

from qcapp.access.summary_links import make_summary_link
from qcapp.errors import BadInput, Clash, QcappError
from qcapp.settings import Settings
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.registry import photos, summary_links
from qcapp.store.tables import LOG, STOVE
from qcapp.store.upkeep import move_rows
from qcapp.store.upkeep.audit import audit_store
from qcapp.store.upkeep.migrate import migrate
from qcapp.store.upkeep.move import move_yard, refuse_half_filled
from qcapp.usecases.open_store import open_store
from tests import builders
from tests.builders import NOW, open_small_store, open_yard
from tests.web.test_batch_review import issue

pytestmark = pytest.mark.slow

WHOLE = b"\xff\xd8\xff a picture"
SHA256 = hashlib.sha256(WHOLE).hexdigest()


def quiet(_what, _done, _total):
    pass


@pytest.fixture
def cluster_url(cluster):
    url = cluster.databases.make_url(None)
    yield url
    cluster.databases.give_back(0)


@pytest.fixture
def yard(tmp_path, monkeypatch):
    """Stoves good, mended, voided and quarantined; photos whole and half; an issued summary;
    a buyer's link that was opened.
    """
    monkeypatch.setattr(builders, "make_url", lambda _path: f"sqlite:///{tmp_path / 'yard.db'}")
    yard = open_yard(tmp_path)
    events = [
        yard.phone.inspect(f"B1-{n:03}", photos=[SHA256] if n == 1 else []) for n in range(1, 9)
    ]
    yard.push(
        *events,
        yard.phone.void(events[3]),
        yard.phone.inspect("B1-020", batch="NONE"),
        {"nonsense": "\0"},
    )
    yard.push(yard.phone.inspect("B1-009", width="106", disposition="rework"))
    yard.push(yard.phone.inspect("B1-009", at="2026-11-24T12:00:00.000Z"))
    with yard.store.writing() as connection:
        photos.append_piece(
            connection, SHA256, size=len(WHOLE), offset=0, piece=WHOLE, is_sound=True
        )
        photos.append_piece(connection, "ab" * 32, size=100, offset=0, piece=b"half", is_sound=True)
    issue(yard)
    token = make_summary_link(
        yard.store, batch="B1", label="Buyer", made_by="lead", days=9, now=NOW
    )
    assert yard.client.get(f"/s/{token}").status_code == 200
    return yard


def count_rows(store):
    with store.reading() as connection:
        counts = {
            table.name: connection.execute(select(func.count()).select_from(table)).scalar_one()
            for table in SQLModel.metadata.sorted_tables
        }
    assert counts["summary"] and counts["photo"] == 2 and counts["link_opening"]
    return counts


def read_log(store):
    with store.reading() as connection:
        return [tuple(row) for row in connection.execute(select(LOG).order_by(LOG.c.seq))]


def test_there_and_back_again_nothing_differs(yard, cluster_url, tmp_path):
    before, rows = read_log(yard.store), count_rows(yard.store)
    there, back = Store(cluster_url), Store(f"sqlite:///{tmp_path / 'back.db'}")
    done = move_yard(yard.store, there, quiet)
    assert (done.records, done.chain, done.stoves, done.photos, done.late) == (
        len(before),
        before[-1][3],
        8,
        2,
        0,
    )
    assert move_yard(there, back, quiet) == done
    for store in (there, back):
        assert read_log(store) == before and count_rows(store) == rows
        assert audit_store(store).altered == []
    assert read_log(yard.store) == before and count_rows(yard.store) == rows
    there.close()


def test_numbers_go_on_after_those_that_were_carried_over(yard, cluster_url):
    there = Store(cluster_url)
    move_yard(yard.store, there, quiet)
    token = make_summary_link(there, batch="B1", label="Second", made_by="lead", days=9, now=NOW)
    with there.reading() as connection:
        assert [row.label for row in summary_links.list_summary_links(connection, "B1")] == [
            "Second",
            "Buyer",
        ]
    assert token
    there.close()


def interrupt_at(number):
    calls = iter(range(1, 1000))

    def tell(_what, _done, _total):
        if next(calls) == number:
            raise KeyboardInterrupt

    return tell


def test_interrupted_anywhere_it_is_not_served_and_goes_on(yard, cluster_url, monkeypatch):
    monkeypatch.setattr(move_rows, "CHUNK_SIZE", 3)
    there = Store(cluster_url)
    for number in (1, 2, 2, 3, 4):
        with pytest.raises(KeyboardInterrupt):
            move_yard(yard.store, there, interrupt_at(number))
        with there.reading() as connection, pytest.raises(Clash) as caught:
            refuse_half_filled(connection, there.short_name)
        assert "same qcapp move again" in caught.value.todo
        with pytest.raises(Clash, match="has not finished"):
            open_store(Settings(database_url=cluster_url))
    assert move_yard(yard.store, there, quiet).late == 0
    with there.reading() as connection:
        refuse_half_filled(connection, there.short_name)
    assert read_log(there) == read_log(yard.store)
    there.close()


def test_what_changed_between_two_runs_is_carried_too(yard, tmp_path, monkeypatch):
    there = Store(f"sqlite:///{tmp_path / 'there.db'}")
    with pytest.raises(KeyboardInterrupt):
        move_yard(yard.store, there, interrupt_at(3))
    yard.push(yard.phone.inspect("B1-030"))
    yard.pair("0197f000-0000-7000-8000-0000000000bb")
    with yard.store.writing() as connection:
        photos.append_piece(connection, "ab" * 32, size=100, offset=4, piece=b"more", is_sound=True)
    move_yard(yard.store, there, quiet)
    assert count_rows(there) == count_rows(yard.store)
    with there.reading() as connection:
        assert photos.find_length(connection, "ab" * 32) == 8


def test_records_that_come_during_the_comparison_are_told_and_the_target_waits(yard, tmp_path):
    there = Store(f"sqlite:///{tmp_path / 'there.db'}")
    fresh = iter([yard.phone.inspect("B1-031")])

    def push_meanwhile(what, _done, _total):
        if what == "stoves compared":
            yard.push(*fresh)

    assert move_yard(yard.store, there, push_meanwhile).late == 1
    with there.reading() as connection, pytest.raises(Clash):
        refuse_half_filled(connection, there.short_name)
    assert move_yard(yard.store, there, quiet).late == 0
    assert count_rows(there) == count_rows(yard.store)


def test_another_yard_or_the_same_one_whole_is_refused_untouched(yard, tmp_path):
    other, _checklist = open_small_store_at(tmp_path / "other.db")
    with pytest.raises(Clash, match="another yard"):
        move_yard(yard.store, other, quiet)
    assert read_log(other) == []
    with pytest.raises(Clash, match="already has all"):
        move_yard(yard.store, yard.store, quiet)


def open_small_store_at(path):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(builders, "make_url", lambda _path: f"sqlite:///{path}")
        return open_small_store()


def test_another_programs_database_is_not_touched(yard, tmp_path):
    there = Store(f"sqlite:///{tmp_path / 'there.db'}")
    with there.writing() as connection:
        connection.exec_driver_sql("CREATE TABLE hens (eggs INTEGER)")
    with pytest.raises(Clash, match="another program"):
        move_yard(yard.store, there, quiet)
    with there.reading() as connection:
        assert connection.exec_driver_sql("SELECT name FROM sqlite_master").scalars().all() == [
            "hens"
        ]


def test_a_target_with_people_in_it_is_not_empty(yard, tmp_path):
    there = Store(f"sqlite:///{tmp_path / 'there.db'}")
    migrate(there)
    with there.writing() as connection:
        connection.exec_driver_sql("INSERT INTO person VALUES ('X1', 'X', '[]', NULL, 0, 0)")
    with pytest.raises(Clash, match="not empty"):
        move_yard(yard.store, there, quiet)


def test_an_altered_source_is_found(yard, tmp_path):
    with yard.store.writing() as connection:
        connection.execute(update(LOG).where(LOG.c.seq == 4).values(hash="0" * 64))
    with pytest.raises(BadInput, match="does not match"):
        move_yard(yard.store, Store(f"sqlite:///{tmp_path / 'there.db'}"), quiet)


def test_figures_that_are_not_the_logs_are_named_and_the_target_stays_out_of_use(yard, tmp_path):
    with yard.store.writing() as connection:
        connection.execute(update(STOVE).where(STOVE.c.serial == "B1-002").values(inspections=9))
    there = Store(f"sqlite:///{tmp_path / 'there.db'}")
    with pytest.raises(QcappError) as caught:
        move_yard(yard.store, there, quiet)
    assert caught.value.where == "stove finished/B1-2"
    with there.reading() as connection, pytest.raises(Clash):
        refuse_half_filled(connection, there.short_name)


def test_a_half_filled_target_with_another_past_is_refused(yard, tmp_path):
    there = Store(f"sqlite:///{tmp_path / 'there.db'}")
    with pytest.raises(KeyboardInterrupt):
        move_yard(yard.store, there, interrupt_at(2))
    with there.writing() as connection:
        last = log.get_head(connection).seq
        connection.execute(update(LOG).where(LOG.c.seq == last).values(chain="0" * 64))
    with pytest.raises(Clash, match="not the source's past"):
        move_yard(yard.store, there, quiet)


def test_a_source_of_an_older_shape_is_not_changed(yard, tmp_path):
    with yard.store.writing() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '0000'")
    with pytest.raises(BadInput, match="older version"):
        move_yard(yard.store, Store(f"sqlite:///{tmp_path / 'there.db'}"), quiet)
