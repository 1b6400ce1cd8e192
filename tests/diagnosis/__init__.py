"""Tests of diagnosis: one file a module."""
