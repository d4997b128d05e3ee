"""The compiled shape: what is kept, sent and hashed."""

import hashlib
import json
from pathlib import Path

import pytest
import rfc8785

from qcapp.checklist.load import load_checklist
from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput
from tests.checklist.small import write_small


@pytest.fixture
def small(tmp_path: Path) -> Checklist:
    return load_checklist(write_small(tmp_path))


def test_compiled_check_has_the_keys_of_its_kind_only(small: Checklist) -> None:
    always = {
        "id",
        "part",
        "step",
        "severity",
        "kind",
        "ask",
        "how",
        "caution",
        "basis",
        "when",
        "faults",
    }
    scale = {"unit", "resolution", "uncertainty", "decision", "possible", "limits"}
    extra = {
        "tick": set(),
        "measure": scale,
        "count": scale | {"rows"},
        "readings": scale | {"n", "by", "labels"},
        "choice": {"options"},
        "calculated": scale | {"inputs", "expression"},
    }
    compiled = small.compiled()["checks"]
    assert {check["kind"]: set(check) - always for check in compiled} == extra
    assert all(always <= set(check) for check in compiled)


def test_count_without_rows_has_no_rows_key(tmp_path: Path) -> None:
    checklist = load_checklist(
        write_small(tmp_path, ("      rows: {medium: [3, 4, 5, 4, 3]}\n", ""))
    )
    assert "rows" not in next(
        check for check in checklist.compiled()["checks"] if check["id"] == "holes"
    )


def test_limits_are_drawn_in_exactly_by_the_uncertainty(small: Checklist) -> None:
    limits = small.check_by_id["width"].limits_for("medium")
    assert (limits.lower, limits.accept_lower, limits.accept_upper, limits.upper) == (
        97,
        97.8,
        102.2,
        103,
    )


def test_one_sided_limit_has_no_other_side(small: Checklist) -> None:
    limits = small.check_by_id["margin"].limits_for("large")
    assert (limits.lower, limits.accept_lower, limits.upper, limits.accept_upper) == (
        10,
        10.5,
        None,
        None,
    )


def test_unknown_size_has_no_limits(small: Checklist) -> None:
    assert small.check_by_id["width"].limits_for("huge") is None


def test_whole_numbers_stay_whole_and_decimals_are_as_written(tmp_path: Path) -> None:
    checklist = load_checklist(
        write_small(
            tmp_path, ("uncertainty: 0.8", "uncertainty: 0.10"), ("lower: 97,", "lower: 97.0,")
        )
    )
    check = checklist.check_by_id["width"]
    numbers = (
        check.uncertainty,
        check.limits_for("medium").lower,
        check.limits_for("medium").accept_lower,
    )
    assert numbers == (0.1, 97, 97.1)
    assert [type(number) for number in numbers] == [float, int, float]


def test_yaml_words_stay_text(tmp_path: Path) -> None:
    checklist = load_checklist(
        write_small(
            tmp_path, ("{en: Swings}", "{en: no}"), ("title: {en: Small}", 'title: {en: "1:30"}')
        )
    )
    assert checklist.title == {"en": "1:30"}
    assert checklist.check_by_id["swing"].ask == {"en": "no"}


def test_hash_is_that_of_the_canonical_json(small: Checklist) -> None:
    assert small.hash == hashlib.sha256(rfc8785.dumps(small.compiled())).hexdigest()
    assert small.key == "small@1"


def test_hash_does_not_depend_on_order_of_keys_or_comments(
    tmp_path: Path, small: Checklist
) -> None:
    again = load_checklist(
        write_small(
            tmp_path,
            ("id: small\nrevision: 1\n", "# a note\nrevision: 1\nid: small\n"),
            ("[medium, large]", "[medium,   large]"),
        )
    )
    assert again.hash == small.hash


def test_hash_changes_with_any_word(tmp_path: Path, small: Checklist) -> None:
    assert load_checklist(write_small(tmp_path, ("By hand.", "By hand!"))).hash != small.hash


def test_json_round_trip_gives_the_same_checklist(small: Checklist) -> None:
    again = Checklist.from_compiled(json.loads(json.dumps(small.compiled())))
    assert again == small
    assert again.hash == small.hash


def test_json_that_wrote_whole_decimals_as_integers_has_the_same_hash(small: Checklist) -> None:
    text = rfc8785.dumps(small.compiled())
    assert Checklist.from_compiled(json.loads(text)).hash == small.hash


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (lambda compiled: compiled.update(revision="1"), "revision"),
        (lambda compiled: compiled.update(extra=1), "extra"),
        (lambda compiled: compiled["checks"][0].update(kind="guess"), "checks.0"),
        (lambda compiled: compiled["checks"][1].update(unit=None), "checks.1.measure.unit"),
        (
            lambda compiled: compiled["checks"][1].update(resolution=float("nan")),
            "checks.1.measure.resolution",
        ),
        (
            lambda compiled: compiled["checks"][1].update(resolution=True),
            "checks.1.measure.resolution",
        ),
        (
            lambda compiled: compiled["checks"][5].update(expression=["import", "os"]),
            "checks.5.calculated",
        ),
        (
            lambda compiled: compiled["checks"][5].update(expression=["input", "holes"]),
            "checks.5.calculated",
        ),
    ],
)
def test_foreign_compiled_json_is_refused_with_its_place(
    change, place: str, small: Checklist
) -> None:
    compiled = small.compiled()
    change(compiled)
    with pytest.raises(BadInput) as raised:
        Checklist.from_compiled(compiled)
    assert raised.value.where.startswith(place)


def test_checklist_cannot_be_changed(small: Checklist) -> None:
    with pytest.raises(ValueError, match="frozen"):
        small.revision = 2
