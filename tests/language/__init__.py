"""Tests of language: one file a module."""
