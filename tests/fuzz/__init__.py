"""Hostile and odd input: named cases that run in CI (tests/test_fuzz.py), and as many random ones
as asked for (`python -m tests.fuzz --cases 20000 --seed 7`).

Each case spoils a copy of a small office, runs one command in a forked child of a process that has
imported everything, and looks at how it ended, what it said and what it wrote.
"""
