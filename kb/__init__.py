"""Benchlore's core: a workshop's fault knowledge, searchable by symptom."""

__version__ = "0.1.0"
