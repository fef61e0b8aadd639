"""`python -m planner` runs the same commands as `planner`."""

from planner.cli.main import main

main()
