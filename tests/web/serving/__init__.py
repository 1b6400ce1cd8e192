"""Tests of web.serving: one file a module."""
