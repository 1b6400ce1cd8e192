"""Many shops: what each shares with an office, and what the office asks."""
