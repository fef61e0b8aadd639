"""A day's plan as a person may change it: the stop order sheet, its checks, what it means."""
