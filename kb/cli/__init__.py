"""The commands at a terminal: the command line (CLI) reads arguments, asks the bench and prints."""
