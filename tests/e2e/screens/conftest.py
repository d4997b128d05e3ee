"""The inspector of most tests of screens: joined to the small yard, on the first screen."""

import pytest

from tests.e2e.inspector import Inspector
from tests.e2e.server import read_checklist


@pytest.fixture
def inspector(server, phone_page):
    inspector = Inspector(phone_page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code())
    return inspector
