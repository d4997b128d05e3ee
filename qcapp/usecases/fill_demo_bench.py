"""What the invented yard's trainer did for the artisans: drew the lot of the cards, set skills."""

from datetime import datetime

from qcapp.reports.card_lot import USUAL_WEEKS
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.sync.server_events import append_server_event
from qcapp.usecases.card_lot import draw_card_lot, find_lot

# The lot runs while the demo is shown.
DRAWN_DAYS_AGO = 21
TRAINER = "trainer"
# (step, who teaches it, who works alone, who is learning it).
SKILLS = (
    ("cut-door-opening", ("A01",), ("A13", "A14", "A05", "A06"), ("A15", "A16")),
    ("hang-door", ("A01", "A13"), ("A02", "A03"), ("A06", "A16")),
    ("set-rivets", ("A13",), ("A02", "A04", "A14"), ("A05", "A15")),
    ("fold-seams", ("A14",), ("A01", "A04"), ("A16",)),
    ("pierce-grate", ("A07",), (), ("A08", "A09")),
    ("form-liner", ("A07", "A08"), (), ("A09",)),
    ("bed-liner", ("A10",), (), ("A11",)),
    ("fire-liner", ("A12",), (), ()),
)


def fill_demo_bench(store: Store, settings: Settings, at: datetime) -> None:
    """A filling that broke off here begins with the skills again; the newest of each counts."""
    with store.reading() as connection:
        if find_lot(connection) is not None:
            return
    for step, *groups in SKILLS:
        levels = zip(("teaches", "works_alone", "learning"), groups, strict=True)
        for level, artisans in levels:
            for artisan in artisans:
                body = {"artisan": artisan, "step": step, "level": level}
                with store.writing() as connection:
                    append_server_event(
                        connection, kind="skill", recorder=TRAINER, body=body, now=at
                    )
    draw_card_lot(store, settings, weeks=USUAL_WEEKS, by=TRAINER, now=at)
