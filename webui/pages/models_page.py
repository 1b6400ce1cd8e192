"""The names of models on their pages: two that mean the same, said with one press and taken back with another."""

from __future__ import annotations

from urllib.parse import urlencode

from flask import Blueprint, redirect
from werkzeug.wrappers import Response

from webui import fields
from webui.guard.safety import once

pages = Blueprint("models", __name__)


@pages.post("/same")
def same() -> Response:
    """Count a name as another one from now on, and show the review of that one."""
    moving = fields.bench().models.merge(fields.in_form("name"), fields.in_form("kept"), once())
    return redirect(_review_of(moving.merge.kept), 303)


@pages.post("/same/apart")
def apart() -> Response:
    """Let a name mean a model of its own again, and show the review of it."""
    merge = fields.bench().models.part(fields.in_form("name"), token=once())
    return redirect(_review_of(merge.name), 303)


def _review_of(model: str) -> str:
    return f"/review?{urlencode({'model': model}, errors='replace')}#names"
