"""The filled yard takes half a minute to make; these tests only read it."""

import pytest

from tests.i18n.filled import FilledYard, open_filled_yard


@pytest.fixture(scope="session")
def filled(tmp_path_factory) -> FilledYard:
    return open_filled_yard(tmp_path_factory.mktemp("filled"))
