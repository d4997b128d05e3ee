"""The published schema of the summary: the samples fit, and nothing altered in form does."""

import json

import pytest
from jsonschema import Draft202012Validator
from jsonschema.validators import extend

from tests.documents.samples import (
    NAMES,
    ROOT,
    altered,
    list_leaves,
    load_earlier_shape,
    load_sample,
)

pytestmark = pytest.mark.slow

SCHEMA = json.loads(
    (ROOT / "qcapp" / "reports" / "summary.schema.json").read_text(encoding="utf-8")
)


def remembering(keyword):
    """The keyword's own rule; a part that fitted once is not gone through again, for the parts of
    a document that a test leaves alone.
    """
    rule, fitting = Draft202012Validator.VALIDATORS[keyword], set()

    def check(validator, wanted, part, schema):
        key = (id(wanted), json.dumps(part))
        if key in fitting:
            return
        is_fitting = True
        for error in rule(validator, wanted, part, schema):
            is_fitting = False
            yield error
        if is_fitting:
            fitting.add(key)

    return check


VALIDATOR = extend(
    Draft202012Validator, {name: remembering(name) for name in ("$ref", "oneOf", "properties")}
)(SCHEMA)


def list_objects(value, path=()):
    if isinstance(value, dict):
        yield path, value
    for key, part in (
        value.items()
        if isinstance(value, dict)
        else enumerate(value)
        if isinstance(value, list)
        else ()
    ):
        yield from list_objects(part, (*path, key))


def test_schema_is_one():
    Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("name", NAMES)
def test_sample_fits(name):
    VALIDATOR.validate(load_sample(name))


# What summaries issued before it was told lack, and what a yard need not have given.
OPTIONAL = {
    (): {"signatory", "contact", "claims", "order", "checks", "serials"},
    ("concessions",): {"faults"},
    ("measures",): {"by_photo"},
    ("recheck",): {"stoves"},
}


def is_optional(path, key):
    named = tuple(step for step in path if isinstance(step, str))
    return key in OPTIONAL.get(named, ())


def test_a_summary_from_before_orders_and_serials_fits_too():
    earlier = load_earlier_shape()
    VALIDATOR.validate(earlier)
    assert not OPTIONAL[()] & set(earlier)


@pytest.mark.parametrize("name", NAMES)
def test_no_key_may_be_added_or_left_out_anywhere(name):
    sample = load_sample(name)
    for path, found in list_objects(sample):
        if path == ("batch", "attributes"):
            continue
        for other in (
            {**found, "unknown": "x"},
            *(
                {key: value for key, value in found.items() if key != left_out}
                for left_out in found
                if not is_optional(path, left_out)
            ),
        ):
            assert not VALIDATOR.is_valid(altered(sample, path, other) if path else other), path


@pytest.mark.parametrize("name", NAMES)
def test_a_fraction_fits_nowhere(name):
    """Floating point numbers are written differently by different languages;
    then a signature could not be checked.
    """
    sample = load_sample(name)
    for path, _value in list_leaves(sample):
        assert not VALIDATOR.is_valid(altered(sample, path, 0.5)), path


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format",), "batch-summary/1"),
        (("number",), 0),
        (("number",), 1),
        (("replaces",), None),
        (("issued_at",), "2026-11-24T16:05:09Z"),
        (("counts", "scrap"), -1),
        (("counts", "scrap"), "3"),
        (("first_pass", "rate"), "63.8"),
        (("first_pass", "low"), ".5"),
        (("severities", 0, "severity"), "deadly"),
        (("decision", "final"), "maybe"),
        (("plan", "sample"), ["H2-001"]),
        (("plan", "letter"), "T"),
        (("checklist", "hash"), "E2" * 32),
        (("measures", 0, "median"), "1e3"),
        (("not_released", 0, "disposition"), "release"),
        (("drawing",), "../round-stove.svg"),
        (("causes", 0, "failed"), -1),
        (("earlier", "batches"), 2),
        (("cautions",), []),
        (("batch", "attributes"), {"painted": None}),
    ],
)
def test_value_out_of_form_is_refused(path, value):
    assert not VALIDATOR.is_valid(altered(load_sample("bad"), path, value))


def test_attributes_of_a_batch_may_be_true_a_whole_number_or_text():
    VALIDATOR.validate(
        altered(
            load_sample("bad"),
            ("batch", "attributes"),
            {"painted": True, "coats": 2, "colour": "black"},
        )
    )
