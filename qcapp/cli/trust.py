"""qcapp verify: is this summary as the yard signed it, is this log as it was written?"""

import json
import sys
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

import typer

from qcapp.access.proof_file import parse_proof
from qcapp.access.signing import Finding, check_proof
from qcapp.access.signing_key import load_or_make_key
from qcapp.cli.options import AsJson
from qcapp.errors import BadInput
from qcapp.reports.summary_messages import FORMAT
from qcapp.reports.summary_wording import list_sentences
from qcapp.settings import Settings
from qcapp.store.engine import Store, refuse_missing
from qcapp.store.log import list_by_kind
from qcapp.store.upkeep.audit import Audit, audit_store
from qcapp.transparency.checkpoint import Checkpoint, parse_checkpoint
from qcapp.usecases.verify_checkpoint import (
    check_against_log,
    check_against_summary,
    check_signature,
    check_use,
    find_note,
)

HEX = set("0123456789abcdef")
KEY_IS_THE_FILES_OWN = (
    "The key above is only the one that the file itself names: anyone can make such a file with a "
    "key of their own. "
    "Compare it with the key that the yard gave you in another way, or pass it with --key."
)


def verify(
    file: Annotated[Path | None, typer.Argument(help="signed summary (.json)")] = None,
    key: Annotated[
        str | None,
        typer.Option(help="the yard's public key, 64 hex digits, as the yard gave it to you"),
    ] = None,
    log: Annotated[
        bool, typer.Option("--log", help="check the yard's own log and figures instead of a file")
    ] = False,
    checkpoint: Annotated[
        str | None,
        typer.Option(
            help="an earlier checkpoint that the log must continue: its file, its text, or an "
            "earlier signed summary"
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Checks a signed summary offline, or with --log the yard's log; exit code 1 when something
    was altered.
    """
    if log == (file is not None):
        raise typer.BadParameter("name a signed summary, or use --log")
    expected = _read_key(key) if key is not None else None
    note = find_note(_read_given(checkpoint)) if checkpoint is not None else None
    is_good = (
        _verify_log(expected, note, as_json=as_json)
        if file is None
        else _verify_file(file, expected, note, as_json=as_json)
    )
    if not is_good:
        raise typer.Exit(1)


def _read_given(given: str) -> str:
    """What a file holds, or the text itself: a checkpoint has several lines, a name one."""
    if "\n" in given.strip():
        return given
    try:
        return Path(given).read_text(encoding="utf-8")
    except (OSError, ValueError) as error:
        raise BadInput(
            "the checkpoint cannot be read", given, "give its file, or its text with all lines"
        ) from error


def _read_key(text: str) -> str:
    """Spaces and colons are how people write long numbers."""
    digits = text.lower().translate({ord(sign): None for sign in " :-"})
    if len(digits) != 64 or set(digits) - HEX:
        raise BadInput(
            f"{text!r} is not a public key",
            "--key",
            "give the 64 hex digits that the yard gave you",
        )
    return digits


def _verify_file(file: Path, key: str | None, note: str | None, *, as_json: bool) -> bool:
    try:
        raw = file.read_bytes()
    except OSError as error:
        raise BadInput(
            f"the file cannot be read: {error.strerror}", str(file), "give the signed .json file"
        ) from error
    proof = parse_proof(raw, str(file))
    findings = check_proof(proof, key)
    if note is not None and not findings:
        findings = check_signature(note, proof["signature"]["public_key"])
        findings += check_against_summary(proof["summary"], parse_checkpoint(note))
    if as_json:
        print(json.dumps(_describe(proof, findings, key), ensure_ascii=False))
    else:
        _print_proof(proof, findings, key, file)
        if note is not None and not findings:
            print(f"its log continues the checkpoint of {parse_checkpoint(note).size} records")
    return not findings


def _describe(proof: dict[str, Any], findings: list[Finding], key: str | None) -> dict[str, Any]:
    """The answer as JSON; what the file claims is given only when it holds."""
    answer = {
        "is_good": not findings,
        "is_key_compared": key is not None,
        "findings": [asdict(finding) for finding in findings],
    }
    if findings:
        return answer
    summary = proof["summary"]
    named = {name: summary.get(name) for name in ("number", "issued_at", "rests_on")}
    batch = (summary.get("batch") or {}).get("code")
    return {
        **answer,
        "public_key": proof["signature"]["public_key"],
        "summary_sha256": proof["signed"]["summary_sha256"],
        "batch": batch,
        **named,
    }


def _print_proof(
    proof: dict[str, Any], findings: list[Finding], key: str | None, file: Path
) -> None:
    for finding in findings:
        print(f"qcapp: {finding}", file=sys.stderr)
    if findings:
        print(f"{file}: NOT good; do not rely on this file")
        return
    found = _describe(proof, findings, key)
    rests_on = found["rests_on"] or {}
    print(f"{file}: good; every field is as it was signed")
    print(f"  batch {found['batch']}, summary {found['number']}, issued {found['issued_at']}")
    print(f"  SHA-256     {found['summary_sha256']}")
    print(f"  public key  {found['public_key']}")
    print(f"based on log record {rests_on.get('seq')}, running hash {rests_on.get('chain')}")
    print("  The key is the one you gave." if key else f"  {KEY_IS_THE_FILES_OWN}")
    _print_sentences(proof["summary"])


def _print_sentences(summary: Mapping[str, Any]) -> None:
    """In English what the file holds as data; a file of another format may have other places."""
    if summary.get("format") != FORMAT:
        return
    try:
        sentences = list_sentences(summary)
    except (AttributeError, KeyError, TypeError):
        # Whoever has a key can sign anything.
        print("it has no sentences in the form that this version knows")
        return
    for sentence in sentences:
        print(f"  {sentence}")


def _verify_log(key: str | None, note: str | None, *, as_json: bool) -> bool:
    url = Settings().database_url
    refuse_missing(url)
    store = Store(url)
    audit = audit_store(store)
    old = parse_checkpoint(note) if note is not None else None
    public_hex = key or _find_own_key()
    useless = check_use(store, note, public_hex) if note is not None else []
    # What is forged, or of another log, says nothing about this one.
    broken = check_against_log(store, old) if old is not None and not useless else []
    # In a log that does not fit, a summary may not even be readable.
    summaries, unsigned = (0, []) if audit.altered else _check_summaries(store, key)
    of_log = [*map(str, audit.altered), *map(str, broken), *unsigned]
    problems = [*map(str, useless), *of_log]
    if as_json:
        print(
            json.dumps(
                {
                    "is_good": not problems,
                    "records": audit.records,
                    "quarantined": audit.quarantined,
                    "signed": audit.signed,
                    "unsigned": audit.unsigned,
                    "summaries": summaries,
                    "chain": audit.chain,
                    "checkpoint_size": old.size if old else None,
                    "is_signer_known": public_hex is not None if old else None,
                    "findings": problems,
                },
                ensure_ascii=False,
            )
        )
    else:
        _print_log(audit, of_log, useless, old, summaries)
        if note is not None and public_hex is None:
            print("  Nobody checked who signed the checkpoint: give the yard's key with --key.")
    return not problems


def _check_summaries(store: Store, key: str | None) -> tuple[int, list[str]]:
    """How many were issued, and what is wrong with their signatures."""
    with store.reading() as connection:
        events = list_by_kind(connection, "summary")
    return len(events), [
        f"summary {event['body'].get('number')} of batch {event['batch']}: {finding}"
        for event in events
        for finding in check_proof(event["body"].get("proof"), key)
    ]


def _find_own_key() -> str | None:
    """The public key of the yard whose machine this is, where its key is."""
    path = Settings().key_file
    return load_or_make_key(path).public_hex if path.exists() else None


def _print_log(
    audit: Audit, of_log: list[str], useless: list[Finding], old: Checkpoint | None, summaries: int
) -> None:
    for problem in (*map(str, useless), *of_log):
        print(f"qcapp: {problem}", file=sys.stderr)
    if of_log:
        print("the log is NOT as it was written; keep this copy, and restore a backup")
        return
    print(
        f"good: {audit.records} records ({audit.quarantined} held back), {summaries} issued "
        f"summaries, and every figure is what the log gives"
    )
    print(
        f"  signed by their phone: {audit.signed}; of phones that had no key then: {audit.unsigned}"
    )
    print(f"  record {audit.records} has the running hash {audit.chain}")
    if useless:
        print("  This checkpoint says nothing about it: get one from whoever kept it.")
    elif old is not None:
        print(f"  it continues the checkpoint of {old.size} records: nothing before was changed")
    else:
        print(
            "Anyone who can write to this database can make the whole chain again: check it with "
            "--checkpoint and one that somebody kept before: a buyer's summary, a phone, a "
            "programme."
        )
