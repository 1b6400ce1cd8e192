"""The names of models on their pages: two that mean the same, said with one press and taken back with another."""

from __future__ import annotations

from urllib.parse import urlencode

from flask import Blueprint, redirect, render_template
from werkzeug.wrappers import Response

from webui import fields
from webui.guard.safety import TOKEN_FIELD, once

pages = Blueprint("models", __name__)


def which_model(model: str, to: str) -> tuple[str, int] | None:
    """The page that asks whether a new model is the known one near it, with the form as it was sent to `to`.

    None where there is nothing to ask, or somebody said already which one is meant.
    """
    near = (
        ""
        if fields.in_form(fields.SURE_OF_MODEL)
        else fields.bench().asking.near_model(model)
    )
    if not near:
        return None
    kept = [
        (name, value) for name, value in fields.form_fields() if name != TOKEN_FIELD
    ]
    return render_template("model.html", model=model, near=near, kept=kept, to=to), 409


@pages.post("/same")
def same() -> Response:
    """Count a name as another one from now on, and show the review of that one."""
    moving = fields.bench().models.merge(
        fields.in_form("name"), fields.in_form("kept"), once()
    )
    return redirect(_review_of(moving.merge.kept), 303)


@pages.post("/same/apart")
def apart() -> Response:
    """Let a name mean a model of its own again, and show the review of it."""
    merge = fields.bench().models.part(fields.in_form("name"), token=once())
    return redirect(_review_of(merge.name), 303)


def _review_of(model: str) -> str:
    return f"/review?{urlencode({'model': model}, errors='replace')}#names"
