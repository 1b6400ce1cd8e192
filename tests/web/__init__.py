"""Tests of web: one file a module."""
