"""Benchlore's core: a workshop's fault knowledge, searchable by symptom."""

__version__ = "1.0.0"
