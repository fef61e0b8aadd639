"""Fleets side by side on the same days: tasks, results, statistics, money."""
