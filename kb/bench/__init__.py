"""The front door: whatever the commands and the pages ask of a shop's bench."""
