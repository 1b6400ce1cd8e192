"""Tests of history/copies: one file a module."""
