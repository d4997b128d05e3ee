"""The yard lead's pages in groups: few enough to be read at a glance, none of them lost.

A new page of the yard gets its line here; tests/web/test_navigation.py walks to each.
"""

from dataclasses import dataclass

from qcapp.i18n.phrase import Phrase, phrase


@dataclass(frozen=True)
class YardPage:
    """more: beginnings of other addresses that belong to it."""

    href: str
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


GROUPS = (
    YardGroup(
        phrase("Phones and records"),
        (
            YardPage("/yard", phrase("Phones")),
            YardPage("/yard/quarantine", phrase("Records held back")),
            YardPage("/yard/import", phrase("Import a file")),
        ),
    ),
    YardGroup(
        phrase("People and work"),
        (
            YardPage("/yard/people", phrase("People")),
            YardPage("/yard/hours", phrase("Hours of work")),
            YardPage("/yard/costs", phrase("Cost of faults")),
        ),
    ),
    YardGroup(
        phrase("Batches and buyers"),
        (
            YardPage("/yard/batches", phrase("Open batches")),
            YardPage("/yard/buyers", phrase("What buyers read")),
        ),
    ),
    YardGroup(
        phrase("Checklists and paper"),
        (
            YardPage("/yard/checklists", phrase("Checklists"), ("/yard/checklist-",)),
            YardPage("/yard/sheets", phrase("Check sheets")),
            YardPage("/yard/tags", phrase("Stove tags")),
            YardPage("/yard/entry", phrase("Type in a sheet")),
        ),
    ),
    YardGroup(
        phrase("Measuring"),
        (
            YardPage("/yard/limits", phrase("Limits and measuring")),
            YardPage("/yard/studies", phrase("Do inspectors agree?")),
            YardPage("/yard/pace", phrase("Pace and second looks")),
        ),
    ),
    YardGroup(
        phrase("Setup and backups"),
        (
            YardPage(
                "/yard/start",
                phrase("Set up"),
                ("/yard/name", "/yard/work", "/yard/crew", "/yard/practice"),
            ),
            YardPage("/yard/backups", phrase("Backups")),
            YardPage("/laptop", phrase("This laptop")),
        ),
    ),
)


def find_here(path: str) -> tuple[YardGroup | None, YardPage | None]:
    """The group and the page that an address lies in, the innermost."""
    found = [(group, one) for group in GROUPS for one in group.pages if one.holds(path)]
    return max(found, key=lambda pair: len(pair[1].href), default=(None, None))
