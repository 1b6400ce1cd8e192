"""Tests of cli: one file a module."""
