"""The derived index: what the library and the history hold, kept in step and quick to ask."""
