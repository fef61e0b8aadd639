"""Published rules as data: state turf-fertilizer rules, signs and notices, records, trucks.

Every row names its section, the day it was read, and whether it was read or written from memory.
The tables hold figures and words; what follows from them for an order is worked out elsewhere
(`planner/compliance/state_rules.py` and, apart from it, `planner/plan/audit/`).
"""
