"""Offers of room, followed to the letter over many random days: how many would not serve the order.

`python -m tests.bench.bench_offers FIRST LAST`: seeds of the days (tests/random_days.py), as in
tests/test_why_not.py. Exit code 1 if any offer is false or the audit finds anything.
"""

from __future__ import annotations

import sys
from collections import Counter

from tests.test_why_not import planned, test_every_room_that_is_named_serves_the_order


def main(first: int, last: int) -> int:
    """Prints the codes and kinds of room that were tried; the number of days with a false one."""
    codes: Counter[str] = Counter()
    kinds: Counter[str] = Counter()
    false = 0
    for seed in range(first, last):
        try:
            test_every_room_that_is_named_serves_the_order(seed)
        except AssertionError as error:
            false += 1
            print(f"seed {seed}: {error}")
        why = planned(seed)[2]
        codes.update(reason.code for reason in why.values())
        kinds.update("+".join(room.room.kind) for reason in why.values() for room in reason.rooms)
    print(f"reasons: {dict(codes)}")
    print(f"offers: {kinds.total()}, of these {dict(kinds)}")
    print(f"days with a false one: {false} of {last - first}")
    return min(1, false)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2])))
