"""A photograph that cannot be fetched fails its test by name; none is skipped in silence."""

import pytest

from tests.holes.photographs import fetch


def test_package_that_is_nowhere_is_a_failure_that_names_it():
    with pytest.raises(pytest.fail.Exception, match="package no-such-photographs could not be"):
        fetch("no-such-photographs", "usr/share")
