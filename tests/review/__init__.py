"""Tests of review: one file a module."""
