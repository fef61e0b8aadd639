"""The compiled search: exact prices, exact refills, ruin and recreate (docs/search.md, 'How the
search works')."""
