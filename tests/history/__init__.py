"""Tests of the history: one file a module."""
