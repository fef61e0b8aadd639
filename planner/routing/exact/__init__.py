"""A truck's day priced by the rules, in plain Python."""
