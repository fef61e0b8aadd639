"""`python -m tests.fuzz`: every named case, random ones and commands stopped at random moments.

    python -m tests.fuzz --named
    python -m tests.fuzz --cases 20000 --seed 7
    python -m tests.fuzz --stops 200

Exit code 1 when anything is wrong; each fault is printed with its case, which the seed makes again.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.fuzz import (
    cases_options,
    cases_places,
    cases_plans,
    cases_tables,
    office,
    randomly,
    stopped,
)
from tests.fuzz.look import Case, faults
from tests.fuzz.server import Server


def main() -> int:
    """Run what was asked for; 1 when anything is wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--named", action="store_true")
    parser.add_argument("--cases", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--stops", type=int, default=0, help="interrupts, and as many kills")
    options = parser.parse_args()
    wrong = 0
    with tempfile.TemporaryDirectory() as scratch:
        os.environ["PLANNER_CACHE_DIR"] = str(Path(scratch) / "cache")
        made, home, server = Path(scratch) / "made", Path(scratch) / "home", Server()
        office.make(made, server)
        count = 0
        for case in _cases(options.named, options.cases, options.seed):
            count += 1
            found = faults(case, made, home, server)
            if found:
                wrong += 1
                print(f"## {case.name}\n   ", "\n    ".join(found), flush=True)
            if count % 500 == 0:
                print(f"{count} cases, {wrong} wrong", flush=True)
        if options.stops:
            found = stopped.run_all(options.stops, options.seed, made, home, server, says=True)
            print("\n".join(found))
            wrong += len(found)
        server.close()
    print(f"{count} cases and {2 * options.stops} stops, {wrong} wrong")
    return int(wrong > 0)


def _cases(named: bool, count: int, seed: int) -> Iterator[Case]:
    if named:
        for module in (cases_tables, cases_options, cases_plans, cases_places):
            yield from module.cases()
    yield from randomly.cases(count, seed)


if __name__ == "__main__":
    sys.exit(main())
