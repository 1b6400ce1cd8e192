"""Tests of web.guard: one file a module."""
