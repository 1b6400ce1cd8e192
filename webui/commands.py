"""The console script: the commands of the core with those of the pages added, each loaded when it is called."""

from __future__ import annotations

from kb.cli.main import main as main

#: As in `kb/cli/commands.txt`: name, where it is, and the sentence that its help begins with.
COMMANDS = """\
demo | webui.serving_commands:demo | Make a shop with an invented history, show one search, and serve its pages.
passphrase | webui.guard.passphrase_command:passphrase | \
Set the passphrase that visitors from the shop's network show; changing it signs everybody out.
serve | webui.serving_commands:serve | Serve the web pages on this computer, or with --host on the shop's network.
"""

main.add_later(COMMANDS)
