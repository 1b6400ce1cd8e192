"""`python -m kb`: the commands of the core, without the web pages."""

from kb.cli.main import main

main(prog_name="benchlore")
