"""The random bars of law, label and gauge on more cases than the suite has time for.

    python -m tests.bench.bench_rules                  # 1,000 cases, 300 neighborhoods, 1,000 fills
    python -m tests.bench.bench_rules --first 90000    # the same of fresh seeds

Stops at the first case in which two checkers differ, with its seed.
"""

from __future__ import annotations

import argparse
from collections import Counter

from tests import test_measures, test_random_rules, test_registry
from tests.plain_rules import PlainDay


def main() -> None:
    """The bench as a command."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--first", type=int, default=0, help="first seed")
    asked.add_argument("--cases", type=int, default=1_000, help="cases of labels, orders, weather")
    said = asked.parse_args()
    held: Counter[str] = Counter()
    free = 0
    for seed in range(said.first, said.first + said.cases):
        try:
            test_random_rules.test_three_checkers_agree(seed)
            test_random_rules.test_two_readers_of_labels_agree(seed)
        except AssertionError:
            print(f"seed {seed}")
            raise
        for codes in PlainDay(test_random_rules.random_case(seed)).codes.values():
            held.update(codes)
            free += not codes
    print(f"{said.cases} cases agree from seed {said.first} on: {free} free, {dict(held)}")
    print(f"300 neighborhoods agree: {test_registry.random_neighborhoods(said.first)} owed")
    test_measures.test_no_gauge_and_no_meter_brings_a_mix_over_its_label(said.first)
    print("1,000 fills with every gauge and meter error stay within their labels")


if __name__ == "__main__":
    main()
