"""Laws of the arithmetic, as properties and against sources from outside."""
