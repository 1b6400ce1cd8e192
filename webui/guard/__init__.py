"""Who may come in: the guard at the door of the pages."""
