"""The rule in tests/vectors: its form, its coverage, and Python's reading of it.

The phone's reading is tests/js/inspection/vectors.js; the last test here holds that both ran the
same number of vectors of every file.
"""

import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import get_args

import pytest

from qcapp.checklist.check_kinds import CHECK_KINDS
from qcapp.errors import BadInput
from qcapp.inspection.disposition import (
    DISPOSITIONS,
    allowed_dispositions,
    needed_checks,
    needs_reason,
    propose_disposition,
)
from qcapp.inspection.event import canonical, event_hash
from qcapp.inspection.event_parts import Verdict
from qcapp.inspection.judge import Judgement, counts_as_fail, hinders_release, judge_answers
from qcapp.inspection.number import number_value, parse_number
from qcapp.inspection.serial import (
    build_tag_serial,
    doubt_serial,
    find_serial_number,
    read_serial,
    serial_key,
)
from qcapp.inspection.signature import fits, signed_bytes
from qcapp.inspection.stove import fold_stove
from tests.inspection.checks import build_checklist
from tests.inspection.phone import run_node

VECTORS = Path(__file__).parent / "vectors"
FILES = {
    f"{path.parent.name}/{path.name}": json.loads(path.read_text("utf-8"))
    for path in sorted(VECTORS.glob("*/*.json"))
}

REASONS = {
    "within",
    "below-lower",
    "above-upper",
    "near-lower",
    "near-upper",
    "marked-pass",
    "marked-fail",
    "marked-not-applicable",
    "condition-not-met",
    "no-answer",
    "not-a-number",
    "not-whole",
    "too-few-readings",
    "too-many-readings",
    "impossible",
    "unknown-option",
    "option-pass",
    "option-fail",
    "input-missing",
    "unknown-mark",
    "no-limits",
    "must-apply",
    "cannot-measure",
    "input-not-measurable",
    "gauge-pass",
    "photo-impossible",
}
JUDGED = {"verdict", "reason", "value"}
# What a test of a folder may hold beside its description: the sets of keys that go together.
FORMS: dict[str, list[set[str]]] = {
    "number": [{"text", "canonical"}],
    "judge": [
        JUDGED | given | more
        for given in (set(), {"answer"}, {"answers"})
        for more in (
            set(),
            {"counts_as_fail"},
            {"hinders_release"},
            {"counts_as_fail", "hinders_release"},
        )
    ],
    "disposition": [
        {"failed_severities", "has_missing", "allowed"},
        {"disposition", "needs_reason"},
        {"checks", "is_short", "needed"},
        {"allowed", "has_skipped", "proposed"},
    ],
    "event": [{"value", "canonical"}, {"event", "hash"}],
    "fold": [
        {"events", "inspections", "disposition", "corrected_twice"} | more
        for more in (set(), {"newest", "decided"})
    ],
    "signature": [{"text", "signature", "is_good"}, {"hash", "text", "signature", "is_good"}],
    "serial": [
        {"serial", "tag"},
        {"typed", "prefix", "is_checked", "serial"},
        {"serial", "key"},
        {"serial", "prefix", "planned", "number", "doubt"},
    ],
}
CASE_KEYS = {"description", "check", "inputs", "size", "batch", "tests", "public_key"}
LONGEST_DESCRIPTION = 100


def list_vectors(*folders: str) -> Iterator[tuple[str, dict, dict]]:
    for file, cases in FILES.items():
        if not folders or file.split("/")[0] in folders:
            for case in cases:
                for vector in case["tests"]:
                    yield f"{file}: {case['description']}: {vector['description']}", case, vector


def run_number(_case: dict, vector: dict) -> None:
    assert parse_number(vector["text"]) == vector["canonical"]


def run_judge(case: dict, vector: dict) -> None:
    checklist = build_checklist([case["check"], *case.get("inputs", [])])
    check = checklist.checks[0]
    own = {check.id: vector["answer"]} if "answer" in vector else {}
    context = {"size": case.get("size", "medium"), "batch": case.get("batch", {})}
    judged = judge_answers(checklist, vector.get("answers", own), context)[check.id]
    assert judged == Judgement(vector["verdict"], vector["reason"], vector["value"])
    if "counts_as_fail" in vector:
        assert counts_as_fail(check, judged.verdict) is vector["counts_as_fail"]
    if "hinders_release" in vector:
        assert hinders_release(check, judged) is vector["hinders_release"]


def run_disposition(_case: dict, vector: dict) -> None:
    if "has_skipped" in vector:
        proposed = propose_disposition(vector["allowed"], vector["has_skipped"])
        assert proposed == vector["proposed"]
    elif "allowed" in vector:
        allowed = allowed_dispositions(vector["failed_severities"], vector["has_missing"])
        assert allowed == vector["allowed"]
    elif "needed" in vector:
        assert (
            needed_checks(
                [SimpleNamespace(**check) for check in vector["checks"]], vector["is_short"]
            )
            == vector["needed"]
        )
    else:
        assert needs_reason(vector["disposition"]) is vector["needs_reason"]


def run_event(_case: dict, vector: dict) -> None:
    if "hash" in vector:
        assert event_hash(vector["event"]) == vector["hash"]
    elif vector["canonical"] is None:
        with pytest.raises(BadInput):
            canonical(vector["value"])
    else:
        assert canonical(vector["value"]).decode() == vector["canonical"]


def run_signature(case: dict, vector: dict) -> None:
    if "hash" in vector:
        assert signed_bytes(vector["hash"]).decode() == vector["text"]
    given = vector["text"].encode(), vector["signature"], case["public_key"]
    assert fits(*given) == vector["is_good"]


def run_fold(_case: dict, vector: dict) -> None:
    state = fold_stove(vector["events"])
    told = {key: vector[key] for key in ("inspections", "disposition", "corrected_twice")}
    newest = vector.get("newest", state["newest"])
    assert state == {**told, "newest": newest, "decided": vector.get("decided")}


def run_serial(_case: dict, vector: dict) -> None:
    if "key" in vector:
        assert serial_key(vector["serial"]) == vector["key"]
        assert serial_key(vector["key"]) == vector["key"], "a key is its own key"
        return
    if "number" in vector:
        serial, prefix = vector["serial"], vector["prefix"]
        assert find_serial_number(serial, prefix) == vector["number"]
        assert doubt_serial(serial, prefix, vector["planned"]) == vector["doubt"]
        return
    if "tag" in vector:
        make, wanted = (lambda: build_tag_serial(vector["serial"])), vector["tag"]
    else:
        make, wanted = (
            (
                lambda: read_serial(
                    vector["typed"], prefix=vector["prefix"], is_checked=vector["is_checked"]
                )
            ),
            vector["serial"],
        )
    if wanted is None:
        with pytest.raises(BadInput):
            make()
    else:
        assert make() == wanted


RUNNERS = {
    "number": run_number,
    "judge": run_judge,
    "disposition": run_disposition,
    "event": run_event,
    "fold": run_fold,
    "signature": run_signature,
    "serial": run_serial,
}


@pytest.mark.parametrize(
    ("folder", "case", "vector"),
    [
        pytest.param(name.split("/")[0], case, vector, id=name)
        for name, case, vector in list_vectors()
    ],
)
def test_python_agrees_with_vector(folder: str, case: dict, vector: dict) -> None:
    RUNNERS[folder](case, vector)


@pytest.mark.parametrize("file", FILES)
def test_file_has_the_form_of_its_folder(file: str) -> None:
    for case in FILES[file]:
        assert set(case) <= CASE_KEYS and case["tests"]
        for vector in case["tests"]:
            assert set(vector) - {"description"} in FORMS[file.split("/", maxsplit=1)[0]], vector
            assert 0 < len(vector["description"]) <= LONGEST_DESCRIPTION


@pytest.mark.parametrize("file", FILES)
def test_descriptions_are_unique_and_state_facts(file: str) -> None:
    cases = FILES[file]
    assert repeated([case["description"] for case in cases]) == []
    for case in cases:
        sentences = [vector["description"] for vector in case["tests"]]
        assert repeated(sentences) == []
        assert not any("should" in sentence for sentence in sentences)


def repeated(words: list[str]) -> list[str]:
    return [word for word, count in Counter(words).items() if count > 1]


def test_vectors_cover_every_kind_verdict_and_reason() -> None:
    judged = [
        (case["check"]["kind"], vector["verdict"], vector["reason"])
        for _, case, vector in list_vectors("judge")
    ]
    kinds, verdicts, reasons = (set(column) for column in zip(*judged, strict=True))
    assert kinds == set(CHECK_KINDS)
    assert verdicts == set(get_args(Verdict))
    assert reasons == REASONS


@pytest.mark.parametrize("kind", CHECK_KINDS)
def test_every_kind_passes_fails_misses_and_is_not_applicable(kind: str) -> None:
    verdicts = {
        vector["verdict"]
        for _, case, vector in list_vectors("judge")
        if case["check"]["kind"] == kind
    }
    assert verdicts >= {"pass", "fail", "missing", "not_applicable"}


@pytest.mark.parametrize("side", ["lower", "upper"])
def test_measured_limit_has_the_rows_every_limit_needs(side: str) -> None:
    case = FILES[f"judge/measure-{side}.json"][0]
    limit = case["check"]["limits"]["medium"][side]
    typed = [
        vector["answer"]["values"][0]
        for vector in case["tests"]
        if "values" in vector.get("answer", {})
    ]
    texts = [text for text in map(parse_number, typed) if text]
    on_the_limit = {"." in text for text in texts if number_value(text) == limit}
    assert on_the_limit == {True, False}
    assert min(map(number_value, texts)) < limit < max(map(number_value, texts))
    assert {"no-answer", "not-a-number"} <= {vector["reason"] for vector in case["tests"]}


def test_every_disposition_is_proposed_and_asked_about() -> None:
    vectors = [vector for _, _, vector in list_vectors("disposition")]
    assert {name for vector in vectors for name in vector.get("allowed", [])} == set(DISPOSITIONS)
    assert {vector["disposition"] for vector in vectors if "disposition" in vector} == set(
        DISPOSITIONS
    )


def test_phone_runs_as_many_vectors_as_python(capsys: pytest.CaptureFixture) -> None:
    python = {file: sum(len(case["tests"]) for case in cases) for file, cases in FILES.items()}
    phone = json.loads(run_node("inspection/count_vectors.js"))
    with capsys.disabled():
        print(f"\nvectors: python {sum(python.values())}, phone {sum(phone.values())}")
    assert phone == python
    assert {file.split("/")[0] for file in phone} == set(RUNNERS)
