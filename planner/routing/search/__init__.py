"""The compiled search: exact prices, exact refills, ruin and recreate (DEVELOPERS.md, 'How the
search works')."""
