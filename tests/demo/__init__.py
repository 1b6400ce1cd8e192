"""Tests of demo: one file a module."""
