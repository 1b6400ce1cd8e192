"""Tests of index: one file a module."""
