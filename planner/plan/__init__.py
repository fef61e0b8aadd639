"""The plan: every clock time and gallon recomputed, audited, and kept as plan.json."""
