"""Fault pictures as files: the library's sheets read, checked, written and edited."""
