"""The skill sheet on paper: one page A4 across, for the wall of the workshop."""

from collections.abc import Sequence
from datetime import datetime

from qcapp.documents.paper_words import prepare
from qcapp.documents.typeset import typeset
from qcapp.i18n.catalogue import Locale, load_locale
from qcapp.i18n.phrase import phrase
from qcapp.inspection.terms import TRADES
from qcapp.reports.skills import LEVELS, SkillBlock, SkillCell, SkillRow


def build_skills_pdf(
    blocks: Sequence[SkillBlock], *, yard: str, since: str | None, dated: datetime, language: str
) -> bytes:
    """since: the first day that the counts are of, ISO; None: of all days."""
    locale = load_locale(language)
    write_day = locale.number_format.write_day
    given = {
        "yard": yard,
        "blocks": [
            {
                "trade": TRADES.get(block.trade, block.trade.replace("-", " ")),
                "people": [{"code": code, "name": name} for code, name in block.people],
                "rows": [_describe_row(row, locale) for row in block.rows],
            }
            for block in blocks
        ],
        "texts": {
            "title": phrase("Skill sheet"),
            "step": phrase("Step"),
            "pair": phrase("Whom to pair"),
            "day": write_day(dated.date().isoformat()),
            "counts": phrase(
                "Below the level, the day it was set; then faulty of inspected at first "
                "inspections since %(day)s.",
                day=write_day(since),
            )
            if since
            else phrase(
                "Below the level, the day it was set; then faulty of inspected at first "
                "inspections."
            ),
            "rank": phrase("Rank nobody by this sheet."),
        },
    }
    return typeset("skills.typ", prepare(given, locale), dated=dated)


def _describe_row(row: SkillRow, locale: Locale) -> dict[str, object]:
    pair = phrase(
        "%(teachers)s with %(learners)s",
        teachers=", ".join(row.teachers),
        learners=", ".join(row.learners),
    )
    return {
        "step": row.title,
        "cells": [_describe_cell(cell, locale) for cell in row.cells],
        "pair": pair if row.is_pair else "",
    }


def _describe_cell(cell: SkillCell, locale: Locale) -> dict[str, object]:
    return {
        "level": LEVELS[cell.skill.level] if cell.skill else "",
        "day": locale.number_format.write_day(cell.skill.set_on) if cell.skill else "",
        "counts": " · ".join(f"{rate.failed}/{rate.inspected}" for _name, rate in cell.counts),
    }
