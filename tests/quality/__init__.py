"""The measuring sets: how good the answers are, with gates."""
