"""Whether the long versions of tests were asked for (BENCHLORE_LONG=1): more draws, more kills, larger sizes."""

from __future__ import annotations

import os

LONG = os.environ.get("BENCHLORE_LONG") == "1"
