"""`planner` and `python -m planner`: it ends quietly, whenever Ctrl-C comes and whatever becomes of
the terminal."""

import gc
import os
import signal
import sys

INTERRUPTED = 130


def run() -> None:
    """The `planner` command of this process."""
    hears_ctrl_c = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if hears_ctrl_c:
        # Nothing is begun yet; an exception could stop a compiled module half-way in.
        signal.signal(signal.SIGINT, _quit)
    from planner.cli.main import main
    from planner.deadline import WITH_PARENT, end_with_parent

    for stream in (sys.stdout, sys.stderr):
        if stream is not None and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # A terminal may know fewer letters than we use.
    if hears_ctrl_c:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    if os.environ.pop(WITH_PARENT, ""):
        end_with_parent()
    try:
        main()
    finally:
        # All is written; nobody gains by stopping the last clean-up.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        # The system takes all memory back at once; looking for circles in it takes a second.
        gc.freeze()


def _quit(number: int, frame: object) -> None:
    os.write(2, b"\nInterrupted.\n")
    os._exit(INTERRUPTED)


if __name__ == "__main__":
    run()
