"""Folders of this machine and user for what is no paper: the only import of platformdirs."""

import os
from pathlib import Path
from typing import Final

import platformdirs

NAME: Final = "lawn-spray-day-planner"
CACHE_VARIABLE: Final = "PLANNER_CACHE_DIR"
STATE_VARIABLE: Final = "PLANNER_STATE_DIR"


def cache_folder() -> Path:
    """For what can be made again: PLANNER_CACHE_DIR, else the user's cache."""
    named = os.environ.get(CACHE_VARIABLE)
    return Path(named) if named else Path(platformdirs.user_cache_dir(NAME))


def state_folder() -> Path:
    """For what cannot: PLANNER_STATE_DIR, else the user's folder of states."""
    named = os.environ.get(STATE_VARIABLE)
    return Path(named) if named else Path(platformdirs.user_state_dir(NAME))
