"""From words to belief to the next step: the diagnosis of one complaint."""
