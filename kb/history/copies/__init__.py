"""Copies of the history: backups, mirrors, and putting one back."""
