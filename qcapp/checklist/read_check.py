"""Reads one check: the keys that every check may have. The block of its kind: read_kind.py."""

from typing import Any, get_args

from qcapp.checklist.base_check import MAX_LASTS, MIN_LASTS, Severity
from qcapp.checklist.check_kinds import NUMBER_KINDS
from qcapp.checklist.fields import Fields, suggest
from qcapp.checklist.read_items import read_faults
from qcapp.checklist.read_kind import READERS, read_kind
from qcapp.checklist.source import Node, Problems
from qcapp.checklist.surroundings import Surroundings
from qcapp.i18n.phrase import Phrase, phrase


def read_check(node: Node, around: Surroundings, problems: Problems) -> dict[str, Any]:
    """The compiled keys of one check; what is wrong goes to problems. around: what it refers to."""
    fields = Fields(node, problems)
    check = _read_common(fields, around)
    kinds = [name for name in READERS if fields.find(name, required=False)]
    kind = kinds[0] if len(kinds) == 1 else None
    # A wrong side is found only when the check's one kind is known.
    check["faults"] = read_faults(fields, is_number=kind is None or kind in NUMBER_KINDS)
    fields.finish()
    if kind is None:
        problems.add(
            node, _say_kinds(kinds), phrase("give one of %(readers)s", readers=tuple(READERS))
        )
        return check
    fault_ids = {fault["id"] for fault in check["faults"] if fault["id"]}
    return {
        **check,
        "kind": kind,
        **read_kind(kind, fields.children[kind], fault_ids, around, problems),
    }


def _say_kinds(kinds: list[str]) -> Phrase:
    if not kinds:
        return phrase("has no kind")
    return phrase("has %(n)s kinds: %(kinds)s", n=len(kinds), kinds=kinds)


def _read_common(fields: Fields, around: Surroundings) -> dict[str, Any]:
    """The keys of every kind but its faults."""
    check: dict[str, Any] = {
        "id": fields.id(),
        "part": fields.one_of("part", around.parts),
        "step": fields.one_of("step", around.steps),
        "severity": fields.one_of("severity", get_args(Severity)),
        "ask": fields.words("ask"),
        "how": fields.words("how"),
        "picture": fields.picture(),
        "caution": fields.words("caution", required=False),
        "asked_again": fields.words("asked_again", required=False),
        "should_be_caught_by": _read_caught_by(fields, around),
        "basis": fields.text("basis"),
        "when": _read_when(fields, around),
    }
    check["may_not_apply"] = _read_may_not_apply(fields, check["severity"])
    check["lasts_seconds"] = _read_lasts(fields)
    check["tool"] = fields.one_of("tool", around.tools, required=False)
    check["after"] = _read_after(fields, around)
    return check


def _read_caught_by(fields: Fields, around: Surroundings) -> dict[str, list[str]] | None:
    """Whether the stage has such checks is seen beside its checklist: earlier_checks.py."""
    node = fields.find("should_be_caught_by", required=False)
    if node is None:
        return None
    stages = Fields(node, fields.problems)
    found = {}
    for stage, child in stages.children.items():
        if stage not in around.earlier:
            fields.problems.add(
                child,
                phrase("this checklist goes on from no stage '%(stage)s'", stage=stage),
                phrase("name the stage under made_from or same_serial, or remove it here"),
            )
        found[stage] = [known for one in stages.items(stage) if (known := fields.as_id(one))]
    return found or None


def _read_may_not_apply(fields: Fields, severity: str | None) -> bool | None:
    node = fields.find("may_not_apply", required=False)
    if node is None:
        return None
    if not isinstance(node.value, bool):
        fields.problems.add(node, phrase("true or false is expected"), phrase("write true"))
    elif node.value and severity == "critical":
        fields.problems.add(
            node,
            phrase("a check for what can hurt someone always applies"),
            phrase("remove the line, or use when for a whole batch"),
        )
    # False is how it is anyway: one way to write it, one hash.
    return True if node.value is True else None


def _read_after(fields: Fields, around: Surroundings) -> list[str] | None:
    names = [(node, fields.as_id(node)) for node in fields.items("after", required=False)]
    for node, name in names:
        if name and name not in around.kinds:
            fields.problems.add(
                node,
                phrase("check '%(value)s' is not known", value=name),
                suggest(name, around.kinds),
            )
    return [name for _node, name in names if name] or None


def _read_lasts(fields: Fields) -> int | None:
    node = fields.find("lasts_seconds", required=False)
    if node is None:
        return None
    seconds = fields.whole("lasts_seconds", MIN_LASTS)
    if seconds is not None and seconds > MAX_LASTS:
        fields.problems.add(
            node,
            phrase("more than %(most)s seconds", most=MAX_LASTS),
            phrase("make it a check of its own at a later stage"),
        )
    if not fields.find("tick", required=False):
        fields.problems.add(node, phrase("only a tick can be timed"), phrase("remove the line"))
    return seconds


def _read_when(fields: Fields, around: Surroundings) -> dict[str, Any]:
    node = fields.find("when", required=False)
    if node is None:
        return {}
    when = {}
    for key, child in Fields(node, fields.problems).children.items():
        if key != "size" and not (key.startswith("batch.") and key != "batch."):
            fields.problems.add(
                child,
                phrase("'%(key)s' is not a valid condition", key=key),
                phrase("use size or batch.<attribute>, such as batch.painted"),
            )
        elif not isinstance(child.value, str | bool):
            fields.problems.add(
                child,
                phrase("true, false or text is expected"),
                phrase("write true or false, or quote the text"),
            )
        elif key == "size" and child.value not in around.sizes:
            fields.problems.add(
                child,
                phrase("size '%(value)s' is not known", value=child.value),
                suggest(str(child.value), around.sizes),
            )
        when[key] = child.value
    return when
