"""python3 -m tests.sync.week: plays the week and writes its reckoning into WEEK.md.

Fails, with what does not agree, before anything is written. A quarter of an hour on two cores
shared with other work.
"""

import argparse
import sys

from tests.sync.week.page import write_page
from tests.sync.week.play import DAY, WEEK
from tests.sync.week.run import SEED, play_and_reckon


def main() -> None:
    parser = argparse.ArgumentParser(prog="python3 -m tests.sync.week", description=__doc__)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--day", action="store_true", help="five phones, one day; writes nothing")
    arguments = parser.parse_args()
    size = DAY if arguments.day else WEEK
    reckoning = play_and_reckon(size, arguments.seed)
    broken = reckoning.list_broken()
    if broken:
        sys.exit("\n".join(broken))
    if arguments.day:
        for heading, rows in reckoning.rows.items():
            print(heading, *(f"{number:8} {words}" for words, number in rows), sep="\n")
    else:
        write_page(reckoning, size, arguments.seed)


if __name__ == "__main__":
    main()
