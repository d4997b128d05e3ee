"""The yard lead's pages in groups: few enough to be read at a glance, none of them lost.

A new page of the yard gets its line here; tests/web/test_navigation.py walks to each.
"""

from dataclasses import dataclass

from qcapp.i18n.phrase import Phrase, phrase


@dataclass(frozen=True)
class YardPage:
    """action: of the route behind it, so that a link is shown to whom its rule lets in; more:
    beginnings of other addresses that belong to it.
    """

    href: str
    action: str
    name: Phrase
    more: tuple[str, ...] = ()

    def holds(self, path: str) -> bool:
        return path == self.href or path.startswith((f"{self.href}/", *self.more))


@dataclass(frozen=True)
class YardGroup:
    """pages: the first one is where the group leads."""

    name: Phrase
    pages: tuple[YardPage, ...]

    @property
    def href(self) -> str:
        return self.pages[0].href

    @property
    def action(self) -> str:
        return self.pages[0].action


GROUPS = (
    YardGroup(
        phrase("Phones and records"),
        (
            YardPage("/yard", "manage_phones", phrase("Phones")),
            YardPage("/yard/quarantine", "decide_quarantine", phrase("Records held back")),
            YardPage("/yard/import", "manage_phones", phrase("Import a file")),
        ),
    ),
    YardGroup(
        phrase("People and work"),
        (
            YardPage("/yard/people", "manage_people", phrase("People")),
            YardPage("/yard/hours", "note_hours", phrase("Hours of work")),
            YardPage("/yard/costs", "reckon_costs", phrase("Cost of faults")),
        ),
    ),
    YardGroup(
        phrase("Batches and buyers"),
        (
            YardPage("/yard/batches", "set_up", phrase("Open batches")),
            YardPage("/yard/buyers", "set_up", phrase("What buyers read")),
        ),
    ),
    YardGroup(
        phrase("Checklists and paper"),
        (
            YardPage(
                "/yard/checklists", "draft_checklists", phrase("Checklists"), ("/yard/checklist-",)
            ),
            YardPage("/yard/sheets", "print_paper", phrase("Check sheets")),
            YardPage("/yard/tags", "print_paper", phrase("Stove tags")),
            YardPage("/yard/entry", "type_sheets", phrase("Type in a sheet")),
        ),
    ),
    YardGroup(
        phrase("Measuring"),
        (
            YardPage("/yard/limits", "measure", phrase("Limits and measuring")),
            YardPage("/yard/studies", "measure", phrase("Do inspectors agree?")),
            YardPage("/yard/pace", "measure", phrase("Pace and second looks")),
        ),
    ),
    YardGroup(
        phrase("Setup and backups"),
        (
            YardPage(
                "/yard/start",
                "set_up",
                phrase("Set up"),
                ("/yard/name", "/yard/work", "/yard/crew", "/yard/practice"),
            ),
            YardPage("/yard/backups", "keep_backups", phrase("Backups")),
            YardPage("/laptop", "keep_laptop", phrase("This laptop")),
        ),
    ),
)


def find_here(path: str) -> tuple[YardGroup | None, YardPage | None]:
    """The group and the page that an address lies in, the innermost."""
    found = [(group, one) for group in GROUPS for one in group.pages if one.holds(path)]
    return max(found, key=lambda pair: len(pair[1].href), default=(None, None))
