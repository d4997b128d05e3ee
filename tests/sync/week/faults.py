"""Every fault of the week: its words, how often it is dealt, when it may fall, and what it does."""

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from tests.sync.simulation.network import FAULTS
from tests.sync.simulation.phone import Phone
from tests.sync.week import mishaps
from tests.sync.week.play import Size, Week

# What stands in the server only from here on in a day; a restore comes before.
LATE = 3


@dataclass(frozen=True)
class Fault:
    """number: how often in a day's small deck times Size.plays. rounds: when it may fall."""

    name: str
    words: str
    act: Callable[[Week, Phone], bool]
    number: int = 1
    rounds: range = range(LATE * 2)
    only_last_day: bool = False

    def play(self, week: Week, phone: Phone) -> None:
        """Counts only what was met; `act` makes it so that it can be."""
        if self.act(week, phone):
            week.played[self.name] += 1


def _on_the_way(name: str) -> Callable[[Week, Phone], bool]:
    def act(week: Week, phone: Phone) -> bool:
        week.inspect(phone, "good", has_photo=True)
        at = "push" if name in WRITING else week.random.choice((None, "push", "pull", "photo"))
        before = week.played[name]
        week.exchange(phone, name, at)
        if week.played[name] == before:
            # The exchange had no such call: any other will do.
            week.exchange(phone, name)
        return False

    return act


# They do nothing where nothing is written.
WRITING = ("power cut", "half done", "twice")
WORDS_ON_THE_WAY = {
    "request lost": "a request is lost on the way",
    "cut body": "the connection breaks in the middle of a request",
    "power cut": "the server loses power while it writes",
    "answer lost": "the server has it, and its answer is lost",
    "timed out": "the server is so slow that the phone gives up",
    "twice": "a request arrives twice",
    "half done": "the server takes half of what was sent",
    "truncated": "an answer is cut off",
    "other request": "an answer to another request",
    "other protocol": "an answer of another protocol",
    "login page": "a Wi-Fi's login page answers for the server",
    "redirected": "something answers with a redirect",
    "empty": "an empty answer",
    "list": "an answer that is a list",
    "null": "an answer that is null",
    "nothing": "an answer without content (204)",
    "401 page": "a foreign page says 401",
    "404 page": "a foreign page says 404",
    "413 page": "a foreign page says 413",
    "422": "the server says no (422) for no reason",
    "500": "the server fails (500)",
    "busy": "the server is busy (503) and says when to come again",
    "kept, then login page": "the server has it, and a login page answers",
    "kept, then 500": "the server has it and says that it failed",
    "kept, then busy": "the server has it and says that it is busy",
}
ON_THE_WAY = [
    Fault(name, WORDS_ON_THE_WAY[name], _on_the_way(name), number=2)
    for name in FAULTS
    if name != "none"
]
EARLY_ROUND, LATE_ROUNDS = range(1, LATE), range(LATE, LATE * 2)
ON_PHONES = [
    Fault("killed save", "the page dies while it saves a record", mishaps.kill_in_a_save, 4),
    Fault("killed exchange", "the page dies in an exchange", mishaps.kill_in_an_exchange, 4),
    Fault("full", "the phone is full, a record is not saved and it says so", mishaps.fill_up, 2),
    Fault("nearly full", "the phone is full until it gives something up", mishaps.make_room, 2),
    Fault("full, sends", "a full phone sends", mishaps.send_full, 3),
    Fault("dropped", "the browser drops the database connection", mishaps.drop_connection, 3),
    Fault("reload", "the page is closed in the middle of an exchange", mishaps.reload, 3),
    Fault("two tabs", "two tabs send at once", mishaps.open_two_tabs, 3),
    Fault("late answer", "an answer comes after a later exchange", mishaps.hear_late, 2),
    Fault("clock ahead", "the phone's clock is set ahead, by up to 90 years", mishaps.set_ahead, 3),
    Fault("clock back", "the phone's clock is set back, by up to 50 years", mishaps.set_back, 3),
    Fault("emptied", "the browser empties the database", mishaps.empty, 1, LATE_ROUNDS),
    Fault(
        "rolled back",
        "the phone is put back to an earlier day's profile",
        mishaps.roll_back,
        1,
        LATE_ROUNDS,
    ),
    Fault(
        "copied",
        "a profile is copied: two phones with one id, one key, one count",
        mishaps.copy,
        1,
        LATE_ROUNDS,
    ),
    Fault("joined again", "a phone joins again with records waiting", mishaps.join_again, 2),
    Fault(
        "removed, back",
        "the lead removes a phone with records waiting, then takes it back",
        mishaps.remove_and_take_back,
        1,
        LATE_ROUNDS,
    ),
    Fault(
        "removed",
        "the lead removes a phone for good; a file brings what it made since",
        mishaps.remove,
        0,
        range(LATE * 2 - 1, LATE * 2),
        only_last_day=True,
    ),
]
BY_PEOPLE = [
    Fault("relay", "a file from phone to phone, sent on by the other", mishaps.hand_over, 3),
    Fault("file", "a file brought to the laptop, and the same sent later", mishaps.bring_file, 3),
    Fault("file twice", "a file brought twice", mishaps.bring_file_twice, 1),
    Fault("two on one stove", "two phones inspect one stove at once", mishaps.meet_on_a_stove, 4),
    Fault("two corrections", "two phones correct one record", mishaps.correct_both, 3),
    Fault("early correction", "a correction arrives before its record", mishaps.correct_early, 2),
    Fault("void", "an inspection is voided by another phone", mishaps.void_others, 3),
    Fault(
        "forged unsigned", "a file made by hand, unsigned", mishaps.forge_unsigned, 1, LATE_ROUNDS
    ),
    Fault("forged key", "a file signed with a foreign key", mishaps.forge_signed, 1, LATE_ROUNDS),
    Fault("forged phone", "a file of a phone nobody knows", mishaps.forge_phone, 1, LATE_ROUNDS),
    Fault("altered", "a record's copy, altered, under its id", mishaps.alter_known, 1, LATE_ROUNDS),
]
ON_SERVER = [
    Fault(
        "restored",
        "the server is put back to this morning's backup, and nobody is told",
        mishaps.restore,
        1,
        EARLY_ROUND,
    ),
    Fault(
        "restored, told",
        "the same by the command that tells the phones",
        mishaps.restore_told,
        1,
        EARLY_ROUND,
    ),
    Fault("again", "an old request arrives once more, hours late", mishaps.deliver_again, 5),
    Fault(
        "old checklist",
        "an inspection is finished with the checklist it began with",
        mishaps.keep_old_checklist,
        3,
        LATE_ROUNDS,
    ),
]
CATALOGUE = [*ON_THE_WAY, *ON_PHONES, *BY_PEOPLE, *ON_SERVER]


def deal(size: Size, seed: int) -> Mapping[tuple[int, int, int], list[Fault]]:
    """Where each fault falls: {(day, round, place of a phone): faults}."""
    chance = random.Random(seed + 1)
    deck: dict[tuple[int, int, int], list[Fault]] = {}
    for fault in CATALOGUE:
        days = range(size.days - 1, size.days) if fault.only_last_day else range(size.days)
        if fault.name == "old checklist":
            days = range(size.checklist_day, size.days)
        for _ in range(max(1, fault.number * size.plays)):
            place = (
                chance.choice(days),
                chance.choice([one for one in fault.rounds if one < size.rounds]),
                chance.randrange(size.phones),
            )
            deck.setdefault(place, []).append(fault)
    return deck


def describe(played: Mapping[str, int]) -> list[tuple[str, int]]:
    return [(fault.words, played[fault.name]) for fault in CATALOGUE]
