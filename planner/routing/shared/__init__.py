"""Limits that trucks share: the store, and sites that fill only so many at one time."""
