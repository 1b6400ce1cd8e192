"""Histories opened beside our own code: by SQLite alone, and by another process."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path

from helpers.places import ROOT


def raw(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(path, isolation_level=None)


def process(script: str, *arguments: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", script, *map(str, arguments)],
        cwd=ROOT,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        stdin=subprocess.PIPE,
    )
