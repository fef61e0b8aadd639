"""The model of a working day: frozen values, base units (ft2, gal, lb, minutes, miles, degrees)."""
