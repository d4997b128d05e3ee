"""Puts together what a batch is decided on, and issues its summary: the only place that signs."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from qcapp.access.signing import document_sha256, sign_document
from qcapp.access.signing_key import SigningKey
from qcapp.errors import BadInput, Clash
from qcapp.i18n.phrase import phrase
from qcapp.inspection.batch_facts import BatchFacts, ServerEvent, list_buyers_words
from qcapp.reports.decision import BatchDecision, decide
from qcapp.reports.plan import AgreedPlan, follow_series, read_plan
from qcapp.reports.summary import Issue, Yard, build_summary
from qcapp.reports.summary_wording import list_photos
from qcapp.reports.totals import list_wrong_sums_of
from qcapp.settings import Settings
from qcapp.stats.sampling import LEVELS, list_aqls
from qcapp.stats.switching import SamplingRegime
from qcapp.store import log
from qcapp.store.engine import Connection, Store
from qcapp.store.projections.summaries import save_summary
from qcapp.store.queries import batch_figures, summaries
from qcapp.store.queries.batch_facts import load_batch_facts
from qcapp.store.registry import people, photos, summary_links
from qcapp.store.registry.batches import get_batch
from qcapp.store.registry.yard_facts import load_yard_facts
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.server_events import append_server_event
from qcapp.usecases.log_checkpoints import sign_checkpoint
from qcapp.usecases.yard_key import load_yard_key


@dataclass(frozen=True)
class BatchReview:
    """What a batch is decided on."""

    facts: BatchFacts
    plan: AgreedPlan
    decision: BatchDecision


@dataclass(frozen=True)
class BatchReviewView:
    """What the lead's page shows of it. proposed: the inspection the rules ask for by the batches
    before.
    """

    review: BatchReview
    proposed: SamplingRegime
    decided: int
    summaries: list[Any]
    is_stale: bool
    links: list[Any]
    openings: list[Any]
    from_buyer: list[ServerEvent]
    aqls: tuple[str, ...] = list_aqls()
    levels: tuple[str, ...] = LEVELS


def load_batch_review(connection: Connection, batch: Mapping[str, Any]) -> BatchReview:
    facts = load_batch_facts(connection, batch)
    plan = read_plan(facts)
    return BatchReview(facts, plan, decide(facts, plan))


def load_batch_review_view(
    connection: Connection, batch: Mapping[str, Any]
) -> BatchReviewView | None:
    """None where no checklist says what is looked at, so that nothing can be decided."""
    code = batch["code"]
    try:
        review = load_batch_review(connection, batch)
    except BadInput:
        return None
    issued = summaries.list_summaries(connection, code)
    decided = [
        row for row in summaries.list_decided(connection, review.facts.design) if row.batch != code
    ]
    return BatchReviewView(
        review=review,
        proposed=follow_series(decided),
        decided=len(decided),
        summaries=issued,
        is_stale=bool(issued) and log.has_stove_records_after(connection, code, issued[0].seq),
        links=summary_links.list_summary_links(connection, code),
        openings=summary_links.list_openings(connection, code),
        from_buyer=list_buyers_words(review.facts.server_events),
    )


@dataclass(frozen=True)
class SummaryPreview:
    """What would be issued now. previous: the document it would replace; its changes are None
    where there is none. waiting: (stage, disposition, stoves) of the batch that still wait;
    photos: of those that the document names, the ones that are here.
    """

    review: BatchReview
    document: Mapping[str, Any]
    previous: Mapping[str, Any] | None
    waiting: tuple[tuple[str, str, int], ...]
    photos: set[str]

    @property
    def is_unchanged(self) -> bool:
        return self.previous is not None and not self.document["changes"]


def preview_summary(
    store: Store, settings: Settings, code: str, *, issued_by: str, now: datetime
) -> SummaryPreview:
    """Signs and keeps nothing. Raises NotFound, and BadInput without a checklist."""
    with store.reading() as connection:
        review = load_batch_review(connection, get_batch(connection, code))
        issue = _begin_issue(connection, review, settings, issued_by, now)
        previous, document = issue.previous, _build_document(connection, review, issue)
        states = batch_figures.list_stove_states(connection, code)
        here = photos.list_whole(connection, list_photos(document))
    waiting = [
        (row.stage, row.disposition, row.stoves)
        for row in states
        if row.disposition in ("rework", "hold")
    ]
    return SummaryPreview(review, document, previous, tuple(sorted(waiting)), here)


def issue_summary(
    store: Store,
    settings: Settings,
    batch: Mapping[str, Any],
    *,
    issued_by: str,
    now: datetime,
    seen: int | None = None,
) -> dict[str, Any]:
    """Signs and records the next summary of the batch; gives the proof. Raises Clash when nothing
    changed. seen: the log number that the preview rested on; what came since is not issued unseen.
    """
    key = load_yard_key(store, settings.key_file)
    with store.writing() as connection:
        review = load_batch_review(connection, batch)
        if seen is not None and log.has_stove_records_after(connection, batch["code"], seen):
            raise Clash(
                phrase("records have arrived since you looked"),
                batch["code"],
                phrase("look at the preview again, then issue the summary"),
            )
        issue = _begin_issue(connection, review, settings, issued_by, now)
        document = _write_document(connection, review, key, issue)
        proof = sign_document(key, document)
        body = {
            "number": document["number"],
            "sha256": document_sha256(document),
            "proof": proof,
            "lot": {
                "design": review.facts.design,
                "result": review.decision.result,
                "may_reduce": review.plan.may_reduce,
                "is_restart": review.plan.is_restart,
            },
        }
        append_server_event(
            connection, kind="summary", recorder=issued_by, body=body, now=now, batch=batch["code"]
        )
        save_summary(connection, batch["code"], document["rests_on"]["seq"] + 1, body)
    return proof


def _write_document(
    connection: Connection, review: BatchReview, key: SigningKey, issue: Issue
) -> dict[str, Any]:
    previous = issue.previous
    log_proof = _prove_log(connection, key, review.facts.rests_on[0], previous)
    document = _build_document(connection, review, replace(issue, log_proof=log_proof))
    _check_sums(document)
    if previous and not document["changes"]:
        raise Clash(
            phrase("nothing has changed since summary %(number)s", number=previous["number"]),
            review.facts.batch["code"],
            phrase("send the buyer that one"),
        )
    return document


def _prove_log(
    connection: Connection, key: SigningKey, seq: int, previous: Mapping[str, Any] | None
) -> dict[str, Any]:
    proven: dict[str, Any] = {"checkpoint": sign_checkpoint(connection, key, seq)}
    if previous and previous["rests_on"]["seq"] <= seq:
        before = previous["rests_on"]["seq"]
        proof = [one.hex() for one in log.find_consistency(connection, before, seq)]
        proven["grew_from"] = {"seq": before, "proof": proof}
    return proven


def describe_yard(connection: Connection, otherwise: str) -> Yard:
    """otherwise: the yard's name where the lead has given none."""
    facts = load_yard_facts(connection)
    said = (facts.signatory, facts.signatory_role, facts.contact, facts.claims)
    return Yard(facts.name or otherwise, *said)


def _begin_issue(
    connection: Connection, review: BatchReview, settings: Settings, issued_by: str, now: datetime
) -> Issue:
    """Without a proof of the log, which only what is signed has."""
    replaced = summaries.find_proof(connection, review.facts.batch["code"])
    previous = replaced["summary"] if replaced else None
    return Issue(
        describe_yard(connection, settings.yard_name),
        format_timestamp(now),
        issued_by,
        previous,
        document_sha256(previous) if previous else None,
    )


def _build_document(connection: Connection, review: BatchReview, issue: Issue) -> dict[str, Any]:
    return build_summary(
        review.facts, review.plan, review.decision, issue, list_maker_words(connection)
    )


def _check_sums(document: Mapping[str, Any]) -> None:
    """What does not add up is not signed: then a figure kept beside the log is damaged."""
    wrong = list_wrong_sums_of(document)
    if wrong:
        raise Clash(
            phrase("the totals do not add up: %(sums)s", sums=wrong),
            document["batch"]["code"],
            phrase("run qcapp rebuild, which calculates every figure again from the log"),
        )


def list_maker_words(connection: Connection) -> list[str]:
    """Codes and names of artisans: what a buyer must not see."""
    return [
        word
        for person in people.list_people(connection)
        if person["trades"]
        for word in (person["code"], person["name"])
    ]


def read_public_key(store: Store, path: Path) -> str:
    """The yard's public key, hex; the key is made when there is none yet. Raises StartError."""
    return load_yard_key(store, path).public_hex
