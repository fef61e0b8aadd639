"""Loadings: what goes into which compartment."""
