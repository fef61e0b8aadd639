"""What goes into a tank: rates, volumes, fills, order of addition, separation and hydraulics."""
