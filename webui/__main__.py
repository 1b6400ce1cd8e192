"""`python -m webui`: all commands, the web pages included."""

from webui.commands import main

main(prog_name="benchlore")
