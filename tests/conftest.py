"""What every check shares."""

from hypothesis import settings

# No check asserts on a clock: a loaded machine must not turn a slow example into a failure.
settings.register_profile("no clock", deadline=None)
settings.load_profile("no clock")
