"""Where things lie that the tests read: the places of the tree."""

from __future__ import annotations

from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
ROOT = TESTS.parent
CORPUS = TESTS / "corpus"
DATA = TESTS / "data"
CASES = TESTS / "cases"
