"""A phone brings what shows a checklist along with it, when the server has lost both."""

import pytest

from qcapp.store.registry import drawings
from qcapp.store.tables import DRAWING, REVISION, REVISION_DRAWING
from tests.access.test_attacks_log import exchange, inspect, make_phone
from tests.sync.simulation.phone import running_phones
from tests.sync.simulation.yard import Yard


@pytest.fixture
def yard(tmp_path):
    made = Yard(tmp_path)
    yield made
    made.close()


def read_shown(yard) -> dict[str, str]:
    with yard.store.reading() as connection:
        return drawings.list_drawings(connection, yard.checklist.hash)


def test_drawings_come_back_with_the_checklist_from_a_phone_that_has_them(yard):
    before = read_shown(yard)
    assert before.keys() == {"round-stove.svg"}
    with running_phones() as phones:
        phone = make_phone(phones, yard)
        exchange(phone, yard.ask)
        with yard.store.writing() as connection:
            for table in (REVISION_DRAWING, DRAWING, REVISION):
                connection.execute(table.delete())
        inspect(phone, yard, "S1")
        exchange(phone, yard.ask)
    assert phone.count_unsent() == 0 and read_shown(yard) == before
