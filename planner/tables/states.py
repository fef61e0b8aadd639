"""Two-letter codes of the states, for the rules that differ by state."""

from __future__ import annotations

from typing import Final

_CODES = """
AK AL AR AS AZ CA CO CT DC DE FL GA GU HI IA ID IL IN KS KY LA MA MD ME MI MN MO
MP MS MT NC ND NE NH NJ NM NV NY OH OK OR PA PR RI SC SD TN TX UT VA VI VT WA WI
WV WY
"""

STATES: Final = frozenset(_CODES.split())
"""Postal codes of the states, the District of Columbia and the territories (USPS Publication 28,
appendix B; from memory)."""
