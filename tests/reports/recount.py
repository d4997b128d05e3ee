"""Counts a yard's stoves again from its exported log alone. Standard library only: nothing of the
program is imported, so that one mistake cannot be made twice.

python3 recount.py LOG CHECKLISTS    the log as `qcapp export log` writes it, and {hash: compiled
                                     checklist} as phones get it, in JSON; prints the counts

The rules are those of "The totals of a batch" in the guide (static/guide/figures.md).
"""

import json
import math
import re
import sys
from collections import Counter, defaultdict
from pathlib import Path

COUNTED = ("pass", "fail", "doubtful")
SEVERITIES = ("critical", "major", "minor")
NUMBER = re.compile(r"[0-9]{1,7}(?:[.,][0-9]{1,4})?")
TOLERANCE = 1e-9


# --- the state of a stove


def list_inspections(events):
    """{(stage, serial): inspections in the order captured}, corrections and voids applied."""
    first = {}
    for event in events:
        first.setdefault(event["id"], event)

    def find_root(event):
        target, seen = first.get(event["corrects"]), set()
        while target and target["kind"] == "correction" and target["id"] not in seen:
            seen.add(target["id"])
            target = first.get(target["corrects"])
        return target["id"] if target and target["kind"] == "inspection" else None

    bodies, voided = {}, set()
    for event in first.values():
        if event["kind"] == "correction" and (root := find_root(event)):
            bodies[root] = event["body"]["replacement"]
        elif event["kind"] == "void" and (root := find_root(event)):
            voided.add(root)
    stoves = defaultdict(list)
    for event in first.values():
        if event["kind"] == "inspection" and event["id"] not in voided:
            body = bodies.get(event["id"], event["body"])
            stoves[event["stage"], event["stove"]].append({**event, "body": body})
    for inspections in stoves.values():
        inspections.sort(
            key=lambda one: (one["captured_at"], one["device_id"], one["dev_seq"], one["id"])
        )
    return dict(stoves)


# --- the verdict on one check


def judge(checklist, body):
    """{check: (verdict, value or None, side or None, fault or None)}"""
    checks = {check["id"]: check for check in checklist["checks"]}
    found = {}

    def look(name):
        if name not in found:
            found[name] = judge_one(checks[name], body, look)
        return found[name]

    return {name: look(name) for name in checks}


def judge_one(check, body, look):
    facts = {"size": body["size"]}
    facts.update({f"batch.{key}": value for key, value in body["batch_attributes"].items()})
    if any(facts.get(key) != wanted for key, wanted in check["when"].items()):
        return "not_applicable", None, None, None
    answer = body["answers"].get(check["id"], {})
    mark = answer.get("mark")
    if mark == "not_applicable":
        return ("not_applicable", None, None, None) if check.get("may_not_apply") else MISSING
    if mark == "cannot_measure" and check["kind"] in ("measure", "count", "readings"):
        return "fail", None, None, "cannot-measure"
    if check["kind"] == "tick":
        return (mark if mark in ("pass", "fail") else "missing"), None, None, None
    if check["kind"] == "choice":
        chosen = [one for one in check["options"] if one["id"] == answer.get("option")]
        return (chosen[0]["verdict"], None, None, chosen[0]["fault"]) if chosen else MISSING
    of_photo = (answer.get("holes") or {}).get("uncertainty")
    if of_photo is not None:
        return judge_photo(check, body["size"], answer["values"], float(of_photo))
    values = find_values(check, answer, look)
    return MISSING if values is None else judge_value(check, body["size"], values)


MISSING = ("missing", None, None, None)


def find_values(check, answer, look):
    """What is held against the limits, and whether it is the mean of two readings; or None."""
    if check["kind"] == "calculated":
        value = calculate(check["expression"], look)
        return None if value is None or not is_possible(check, value) else (value, False)
    texts = answer.get("values") or []
    if not texts or not all(NUMBER.fullmatch(text) for text in texts):
        return None
    numbers = [float(text.replace(",", ".")) for text in texts]
    if not all(is_possible(check, number) for number in numbers):
        return None
    if check["kind"] == "readings":
        if len(numbers) != check["n"]:
            return None
        mean = sum(numbers) / len(numbers)
        spread = max(numbers) - min(numbers)
        by = {"smallest": min(numbers), "largest": max(numbers), "mean": mean, "range": spread}
        return by[check["by"]], False
    if check["kind"] == "count" and any(number != int(number) for number in numbers):
        return None
    return sum(numbers) / len(numbers), len(numbers) == 2


def is_possible(check, value):
    low, high = check["possible"]["lower"], check["possible"]["upper"]
    return not is_under(value, low) and not is_under(high, value, high)


def is_under(value, limit, scale=None):
    """Below by more than binary rounding; a limit that is not there holds nothing."""
    if value is None or limit is None:
        return False
    return value < limit - TOLERANCE * max(1, abs(limit if scale is None else scale))


def calculate(tree, look):
    if isinstance(tree, (int, float)):
        return float(tree)
    head, *rest = tree
    if head == "input":
        return look(rest[0])[1]
    parts = [calculate(part, look) for part in rest]
    if any(part is None for part in parts):
        return None
    try:
        value = {
            "+": lambda: parts[0] + parts[1],
            "-": lambda: parts[0] - parts[1],
            "*": lambda: parts[0] * parts[1],
            "/": lambda: parts[0] / parts[1],
            "neg": lambda: -parts[0],
            "sqrt": lambda: math.sqrt(parts[0]),
            "abs": lambda: abs(parts[0]),
            "min": lambda: min(parts),
            "max": lambda: max(parts),
        }[head]()
    except (ZeroDivisionError, ValueError):
        return None
    return value if math.isfinite(value) else None


def judge_value(check, size, values):
    value, is_mean = values
    limits = check["limits"].get(size)
    if limits is None:
        return MISSING
    if is_under(value, limits["lower"]):
        return "fail", value, "below", None
    if is_under(limits["upper"], value, limits["upper"]):
        return "fail", value, "above", None
    low, high = limits["accept_lower"], limits["accept_upper"]
    if is_mean:
        low = low if limits.get("twice_lower") is None else limits["twice_lower"]
        high = high if limits.get("twice_upper") is None else limits["twice_upper"]
    if is_under(value, low):
        return "doubtful", value, "below", None
    if is_under(high, value, high):
        return "doubtful", value, "above", None
    return "pass", value, None, None


def judge_photo(check, size, values, uncertainty):
    """One figure stands for all readings, and is held against the limits with its own band."""
    value = float(values[0])
    limits = dict(check["limits"].get(size) or {})
    if not limits or len(values) != 1 or not is_possible(check, value):
        return MISSING
    factor = check.get("guard_factor")
    band = uncertainty * (1 if factor is None else factor)
    for side, sign in (("lower", 1), ("upper", -1)):
        limits[f"accept_{side}"] = (
            limits[side] if limits[side] is None else limits[side] + sign * band
        )
    return judge_value({**check, "limits": {size: limits}}, size, (value, False))


def name_fault(check, answer, side, of_option):
    """The inspector's word, else the option's, else the only one that fits."""
    fitting = [one["id"] for one in check["faults"] if side and one["side"] == side]
    if answer.get("fault") is not None:
        return answer["fault"]
    if of_option is not None:
        return of_option
    if len(check["faults"]) == 1:
        return check["faults"][0]["id"]
    return fitting[0] if len(fitting) == 1 else None


# --- the counts


def list_checks(inspection, checklist):
    """Every judged check of an inspection as a dict."""
    body = inspection["body"]
    rows = []
    judged = judge(checklist, body)
    for check in checklist["checks"]:
        verdict, value, side, of_option = judged[check["id"]]
        is_guarded = check.get("decision") == "guarded"
        failed = verdict == "fail" or (verdict == "doubtful" and is_guarded)
        answer = body["answers"].get(check["id"], {})
        rows.append(
            {
                "check": check["id"],
                "part": check["part"],
                "step": check["step"],
                "severity": check["severity"],
                "artisan": body["crew"].get(check["step"]),
                "verdict": verdict,
                "value": value,
                "failed": failed,
                "fault": name_fault(check, answer, side, of_option) if failed else None,
            }
        )
    return rows


def recount(events, checklists):
    """{"batches": {(batch, stage): counts}, "steps": {(stage, step, artisan): [failed, inspected]},
    "faults": {(stage, step, check, fault): failed}}, all of first passes.
    """
    batches, steps, faults = {}, defaultdict(lambda: [0, 0]), Counter()
    for (stage, serial), inspections in list_inspections(events).items():
        first, last = inspections[0], inspections[-1]
        checks = list_checks(first, checklists[first["checklist_hash"]])
        here = batches.setdefault((first["batch"], stage), start_batch())
        count_stove(here, serial, checks, inspections, last["body"]["disposition"]["kind"])
        by_step = defaultdict(bool)
        for row in checks:
            if row["verdict"] in COUNTED:
                by_step[row["step"], row["artisan"]] |= row["failed"]
            if row["failed"]:
                faults[stage, row["step"], row["check"], row["fault"]] += 1
        for (step, artisan), failed in by_step.items():
            steps[stage, step, artisan][0] += failed
            steps[stage, step, artisan][1] += 1
    return {"batches": batches, "steps": dict(steps), "faults": dict(faults)}


def start_batch():
    return {
        "stoves": Counter(),
        "faults": 0,
        "by": {"part": Counter(), "check": Counter(), "severity": Counter()},
        "kinds": Counter(),
        "stoves_with": Counter(),
        "looked_at": Counter(),
        "passes": {},
    }


def count_stove(here, serial, checks, inspections, disposition):
    bad = any(row["failed"] for row in checks)
    ends = disposition
    if disposition == "release":
        ends = "released_at_once" if len(inspections) == 1 else "released_later"
    here["stoves"].update(("inspected", "faulty" if bad else "good", ends))
    missing = {row["severity"] for row in checks if row["verdict"] == "missing"}
    made = {row["severity"] for row in checks if row["verdict"] in ("pass", "fail", "doubtful")}
    failed = Counter(row["severity"] for row in checks if row["failed"])
    here["passes"][serial] = (sum(failed.values()), dict(failed), missing)
    for severity in SEVERITIES:
        here["stoves_with"][severity] += failed[severity] > 0
        here["looked_at"][severity] += failed[severity] > 0 or (
            severity in made and severity not in missing
        )
    for row in checks:
        if row["failed"]:
            here["faults"] += 1
            here["kinds"][row["check"], row["fault"]] += 1
            for division in here["by"]:
                here["by"][division][row[division]] += 1


def read_log(lines):
    return [json.loads(line) for line in lines if line.strip()]


def main(log, checklists):
    events = read_log(Path(log).read_text(encoding="utf-8").splitlines())
    found = recount(events, json.loads(Path(checklists).read_text(encoding="utf-8")))
    for (batch, stage), counts in sorted(found["batches"].items()):
        stoves = ", ".join(f"{key} {count}" for key, count in sorted(counts["stoves"].items()))
        print(f"{batch} {stage}: {stoves}; faults {counts['faults']}")


if __name__ == "__main__":
    main(*sys.argv[1:])
