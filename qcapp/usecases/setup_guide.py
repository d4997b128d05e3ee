"""The guided start: what a yard needs before its first stove, what is there, what is missing."""

from collections.abc import Callable
from dataclasses import dataclass

from qcapp.i18n.phrase import phrase
from qcapp.inspection.terms import TRADES
from qcapp.store.engine import Store
from qcapp.usecases.yard_state import YardState, read_state


@dataclass(frozen=True)
class SetupStep:
    """missing: what is still to do, in a sentence; empty when it is done."""

    href: str
    title: str
    why: str
    missing: str


@dataclass(frozen=True)
class Guide:
    steps: tuple[SetupStep, ...]
    is_ended: bool

    @property
    def done(self) -> int:
        return sum(not step.missing for step in self.steps)

    @property
    def first_open(self) -> SetupStep | None:
        return next((step for step in self.steps if step.missing), None)

    @property
    def is_shown(self) -> bool:
        """Whether pages lead through it: until it is put away, or nothing is missing any more."""
        return not self.is_ended and self.first_open is not None

    def find_next(self, path: str) -> SetupStep | None:
        """The next step after the page that still misses something; else the first that does."""
        places = [place for place, step in enumerate(self.steps) if step.href == path]
        after = self.steps[places[0] + 1 :] if places else ()
        return next((step for step in after if step.missing), self.first_open)


@dataclass(frozen=True)
class _Task:
    """find_missing: a sentence of what a yard in this state still lacks; empty when it is done."""

    href: str
    title: str
    why: str
    find_missing: Callable[[YardState], str]


def build_guide(state: YardState) -> Guide:
    steps = (SetupStep(task.href, task.title, task.why, task.find_missing(state)) for task in TASKS)
    return Guide(tuple(steps), state.facts.is_ended)


def load_guide(store: Store) -> Guide:
    return build_guide(read_state(store))


def _miss_name(state: YardState) -> str:
    return "" if state.facts.name else phrase("The yard has no name yet.")


def _miss_work(state: YardState) -> str:
    if state.facts.sizes and state.facts.checklist_ids:
        return ""
    return phrase("No size and no checklist are chosen yet.")


def _miss_people(state: YardState) -> str:
    has_inspector = any(person["is_inspector"] for person in state.present)
    has_artisan = any(person["trades"] for person in state.present)
    if not has_inspector and not has_artisan:
        return phrase(
            "Nobody has been added yet: at least one inspector and one artisan are needed."
        )
    if not has_inspector:
        return phrase("There is no inspector yet.")
    return "" if has_artisan else phrase("There is no artisan yet.")


def _miss_crew(state: YardState) -> str:
    open_trades = [TRADES.get(trade, trade) for trade in state.trades if trade not in state.crew]
    return (
        phrase("Nobody is chosen yet for: %(trades)s.", trades=open_trades) if open_trades else ""
    )


def _miss_batch(state: YardState) -> str:
    is_open = any(batch["closed_at"] is None for batch in state.batches)
    return "" if is_open else phrase("No batch is open.")


def _miss_phone(state: YardState) -> str:
    return "" if state.phones else phrase("No phone has joined yet.")


def _miss_practice(state: YardState) -> str:
    return "" if state.facts.is_practised else phrase("Nobody has confirmed the practice yet.")


# In the order in which a yard does them.
TASKS = (
    _Task(
        "/yard/name",
        phrase("Name the yard"),
        phrase("It is on every page, on papers and on summaries for buyers."),
        _miss_name,
    ),
    _Task(
        "/yard/work",
        phrase("Sizes and checklists"),
        phrase(
            "Which sizes you make, and what you check: the finished stove, and earlier "
            "stages if you like."
        ),
        _miss_work,
    ),
    _Task(
        "/yard/people",
        phrase("People"),
        phrase(
            "Who inspects, and who makes the stoves: a short code, a name, the trades, the "
            "first day."
        ),
        _miss_people,
    ),
    _Task(
        "/yard/crew",
        phrase("Crew"),
        phrase("Who usually does which step. The phone then suggests them for each stove."),
        _miss_crew,
    ),
    _Task(
        "/yard/batches",
        phrase("First batch"),
        phrase(
            "Stoves that are offered together: a code, a size, how many, whether they are painted."
        ),
        _miss_batch,
    ),
    _Task(
        "/yard",
        phrase("Join a phone"),
        phrase(
            "A code that works once lets a phone join the yard; from then on the phone works "
            "without signal."
        ),
        _miss_phone,
    ),
    _Task(
        "/yard/practice",
        phrase("Practise"),
        phrase("Practise on an invented stove on the phone; nothing of it is kept."),
        _miss_practice,
    ),
)
