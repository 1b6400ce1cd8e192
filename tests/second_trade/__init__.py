"""Tests of a second trade: the program over another library."""
