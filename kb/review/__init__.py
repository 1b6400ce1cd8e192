"""Looking back: the review of what failed, what it cost, and what to keep."""
