"""Writers take turns: first come first served, and nobody waits for ever."""

import threading
import time

import pytest

from qcapp.errors import StoreError
from qcapp.store import write_lock
from qcapp.store.write_lock import MAX_WAITING, WriteLock
from tests.builders import open_small_store


def wait_until(is_so) -> None:
    for _ in range(2000):
        if is_so():
            return
        time.sleep(0.005)
    pytest.fail("it never came to that")


def line_up(queue: WriteLock, count: int, served: list) -> list[threading.Thread]:
    """Writers that come one after the other while the first turn is taken."""

    def write(number: int) -> None:
        with queue.take():
            served.append(number)

    threads = [threading.Thread(target=write, args=(number,)) for number in range(count)]
    for place, thread in enumerate(threads):
        thread.start()
        wait_until(lambda place=place: len(queue._queue) == place + 2)
    return threads


def test_they_are_served_in_the_order_they_came():
    queue, served = WriteLock(), []
    with queue.take():
        threads = line_up(queue, MAX_WAITING, served)
    for thread in threads:
        thread.join(10)
    assert served == list(range(MAX_WAITING))


def test_who_comes_to_a_long_queue_is_told_to_come_again():
    queue, served = WriteLock(), []
    with queue.take():
        threads = line_up(queue, MAX_WAITING, served)
        with pytest.raises(StoreError) as caught, queue.take():
            pytest.fail("there was no place")
        assert caught.value.status == 503 and caught.value.retry_after_s > 0
    for thread in threads:
        thread.join(10)
    with queue.take():
        pass


def test_who_has_waited_too_long_leaves_and_the_next_goes_on(monkeypatch):
    monkeypatch.setattr(write_lock, "MAX_WAIT_S", 0.05)
    queue, errors = WriteLock(), []

    def give_up() -> None:
        try:
            with queue.take():
                pytest.fail("its turn never came")
        except StoreError as error:
            errors.append(error)

    with queue.take():
        thread = threading.Thread(target=give_up)
        thread.start()
        thread.join(10)
    assert len(errors) == 1
    with queue.take():
        pass


def test_an_error_passes_the_turn_on():
    queue = WriteLock()
    with pytest.raises(RuntimeError), queue.take():
        raise RuntimeError("power cut")
    with queue.take():
        pass


def test_readers_do_not_wait_for_a_writer(tmp_path):
    store, _checklist = open_small_store(tmp_path / "yard.db")
    with store.writing(), store.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM log").scalar() == 0
    store.close()
