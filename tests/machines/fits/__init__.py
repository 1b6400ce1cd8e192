"""Tests of the machines on the floor: one file a module."""
