"""Files, times and figures that any program could use: the base that knows no workshop."""
