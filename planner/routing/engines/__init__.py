"""Engines behind the protocol of `planner.routing.problem`."""
