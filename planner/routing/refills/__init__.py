"""All refill stops of a day at once: what each truck could do, and CP-SAT's choice among it."""
