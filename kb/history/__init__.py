"""The precious file: every job opened, tested, closed and retracted, appended and never changed."""

from kb.history.memory import History as History
