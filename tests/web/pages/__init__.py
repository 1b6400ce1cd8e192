"""Tests of web.pages: one file a module."""
