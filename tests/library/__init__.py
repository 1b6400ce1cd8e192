"""Tests of the library: one file a module."""
