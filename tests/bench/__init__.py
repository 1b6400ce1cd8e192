"""Tests of bench: one file a module."""
