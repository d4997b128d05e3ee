"""A server keeps its connections from request to request; a command closes each at its end."""

from contextlib import ExitStack

from sqlalchemy import event, text

from qcapp.store.engine import KEPT, Store


def watch(store):
    """How often the file was opened and closed, while it goes on."""
    seen = {"connect": 0, "close": 0}

    def note(name, counted):
        def add(*_given):
            seen[counted] += 1

        event.listen(store.engine, name, add)

    note("connect", "connect")
    note("close", "close")
    # One that is closed and not kept is none of the pool's any more.
    note("close_detached", "close")
    return seen


def count(store) -> int:
    with store.reading() as connection:
        return connection.execute(text("SELECT count(*) FROM yard")).scalar_one()


def write(store, number: int) -> None:
    with store.writing() as connection:
        connection.execute(text("INSERT INTO yard VALUES (:number)"), {"number": number})


def open_file(tmp_path) -> Store:
    store = Store(f"sqlite:///{tmp_path / 'yard.db'}")
    with store.writing() as connection:
        connection.execute(text("CREATE TABLE yard (number INTEGER)"))
    return store


def test_a_command_leaves_one_file(tmp_path):
    store = open_file(tmp_path)
    seen = watch(store)
    write(store, 1)
    assert (count(store), seen) == (1, {"connect": 2, "close": 2})
    assert [file.name for file in tmp_path.iterdir()] == ["yard.db"]


def test_a_server_opens_no_file_for_a_request(tmp_path):
    store = open_file(tmp_path)
    seen = watch(store)
    store.hold()
    write(store, 1)
    count(store)
    first = dict(seen)
    for number in range(2, 9):
        write(store, number)
        assert count(store) == number
    assert seen == first == {"connect": 2, "close": 0}
    store.close()
    assert seen["close"] == 2 and [file.name for file in tmp_path.iterdir()] == ["yard.db"]
    assert count(store) == 8


def test_many_requests_at_once_wait_for_none_and_few_connections_stay(tmp_path):
    store = open_file(tmp_path)
    store.hold()
    seen = watch(store)
    with ExitStack() as stack:
        readers = [stack.enter_context(store.reading()) for _reader in range(40)]
        assert [one.execute(text("SELECT count(*) FROM yard")).scalar() for one in readers] == [
            0
        ] * 40
    # The one that is held is of the same pool.
    assert seen["connect"] - seen["close"] <= KEPT["pool_size"]
    store.close()


def test_a_kept_connection_sees_what_was_written_since(tmp_path):
    store, other = open_file(tmp_path), Store(f"sqlite:///{tmp_path / 'yard.db'}")
    store.hold()
    for number in range(1, 4):
        assert count(store) == number - 1
        write(other, number)
    assert count(store) == 3
    store.close()


def test_a_refused_writing_leaves_nothing_open_in_a_kept_connection(tmp_path):
    store = open_file(tmp_path)
    store.hold()
    try:
        with store.writing() as connection:
            connection.execute(text("INSERT INTO yard VALUES (1)"))
            raise ZeroDivisionError
    except ZeroDivisionError:
        pass
    assert count(store) == 0
    write(Store(store.url), 1)
    assert count(store) == 1
    store.close()
