"""Machines on the floor: what each needs next, which part fits which, what a check-out asks and what they cost."""
