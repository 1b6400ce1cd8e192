"""Somebody who gives a passphrase at the door."""

from __future__ import annotations

from flask import Flask
from security.walking import post, token, visitor
from werkzeug.test import TestResponse


def knock(
    app: Flask, passphrase: str, to: str = "/", address: str = "192.0.2.7"
) -> TestResponse:
    client = visitor(app)
    client.environ_base["REMOTE_ADDR"] = address
    return post(
        client,
        "/enter",
        {"token": token(client, "/enter"), "passphrase": passphrase, "to": to},
    )
