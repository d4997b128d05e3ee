"""Loads what is right first time over the stages of making."""

from dataclasses import dataclass, replace

from qcapp.checklist.history import ChecklistHistory
from qcapp.inspection.filters import Filters
from qcapp.reports.piece_facts import PieceFacts, StageFacts
from qcapp.reports.pieces import PieceReport, build_piece_report
from qcapp.reports.shared_steps import list_shared_steps
from qcapp.store.engine import Store
from qcapp.store.queries import piece_queries, trainer_queries
from qcapp.store.queries.piece_queries import Unmatched


@dataclass(frozen=True)
class PieceView:
    """contradictions: as of the report, by name (stage/serial). unmatched: entered serials that no
    inspection knows: how many, and the first few.
    """

    report: PieceReport
    contradictions: list[list[str]]
    unmatched: tuple[int, list[Unmatched]]


def load_pieces(store: Store, history: ChecklistHistory, filters: Filters) -> PieceView:
    """Under the filters' days, batch and size; first passes of every stage and trade."""
    asked = replace(filters, stage=None, trade=None, has_rework=False)
    with store.reading() as connection:
        articles, links = piece_queries.list_links(connection, asked)
        passes = piece_queries.list_step_passes(connection, articles, list_shared_steps(history))
        facts = PieceFacts(
            stages=[StageFacts(*row) for row in piece_queries.list_stage_counts(connection, asked)],
            articles=articles,
            links=links,
            claims=piece_queries.list_claims(connection, {link.from_key for link in links}),
            step_counts=trainer_queries.list_step_counts(connection, asked),
            step_passes={(one.key, one.step): one.failed for one in passes},
        )
        entered = {(one.id, stage) for one in history.current.values() for stage in one.made_from}
        unmatched = piece_queries.list_unmatched(connection, asked, entered)
        report = build_piece_report(facts, history)
        names = piece_queries.list_names(
            connection, {key for group in report.contradictions for key in group}
        )
    contradictions = [[names.get(key, key) for key in group] for group in report.contradictions]
    return PieceView(report, contradictions, unmatched)
