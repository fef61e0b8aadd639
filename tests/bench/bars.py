"""Every bar of loading and routing, in one run, as one table.

    pip install -e '.[bench]'
    python -m tests.bench.bars             # under half an hour on an idle machine of two cores
    python -m tests.bench.bars --quick     # a few minutes: whether everything runs; no bars
    python -m tests.bench.bars --only published scale
    python -m tests.bench.bars --only paid # in the money of a real day, no bars; two minutes

Nothing else should run beside it: the figures are of the clock. Each day's line is printed as it is
done, the table at the end; an interrupt shows the table so far, and a part that fails does not stop
the others. Ends with 1 when a bar is missed or a part failed.
Solomon's and the facilities' files are read from ../shared; without them that part is told as
skipped.
"""

from __future__ import annotations

import argparse
import sys
import time
import traceback
from collections.abc import Callable, Iterator

from tests.bench import bench_loading, bench_paid, bench_published, bench_pyvrp, bench_scale
from tests.bench.ours import Bar, show
from tests.bench.published import FILES

SEEDS, QUICK_SEEDS = 5, 1


def beside_pyvrp(quick: bool) -> Iterator[Bar]:
    """Loading fixed alike."""
    if quick:
        return bench_pyvrp.bars(bench_pyvrp.QUICK_CELLS, QUICK_SEEDS)
    return bench_pyvrp.bars(bench_pyvrp.CELLS, SEEDS)


def published(quick: bool) -> Iterator[Bar]:
    """Solomon's six and the facilities."""
    if not FILES.is_dir():
        print("published instances: skipped, ../shared is not there")
        return iter(())
    names = list(bench_published.BEST_KNOWN)
    seconds = bench_published.QUICK_SECONDS if quick else bench_published.SECONDS
    return bench_published.bars(names[:2] if quick else names, seconds, quick=quick)


PARTS: dict[str, Callable[[bool], Iterator[Bar]]] = {
    "scale": lambda quick: bench_scale.bars(quick=quick),
    "published": published,
    "loading": lambda quick: bench_loading.bars(quick=quick),
    "pyvrp": beside_pyvrp,
    "paid": lambda quick: bench_paid.bars(quick=quick),
}
WITHOUT_BARS = {"paid"}
"""Only when asked for: they would make the run longer than half an hour."""


def main() -> None:
    """The bench as a command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true")
    parser.add_argument(
        "--only",
        nargs="+",
        choices=PARTS,
        default=[name for name in PARTS if name not in WITHOUT_BARS],
    )
    options = parser.parse_args()
    begun, rows, failed = time.monotonic(), list[Bar](), list[str]()
    try:
        for name in options.only:
            print(f"== {name}", flush=True)
            try:
                for bar in PARTS[name](options.quick):
                    rows.append(bar)
            except Exception:
                # Half an hour of other figures is not thrown away for it.
                traceback.print_exc()
                failed.append(name)
    except KeyboardInterrupt:
        failed.append("interrupted")
    print()
    if rows:
        show(rows)
    print(
        f"{(time.monotonic() - begun) / 60:.1f} minutes; failed: {', '.join(failed) or 'nothing'}"
    )
    sys.exit(1 if failed or any(bar.met is False for bar in rows) else 0)


if __name__ == "__main__":
    main()
