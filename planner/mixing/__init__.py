"""Label rates, volumes, fills, order of addition, limits, separation and hydraulics."""
