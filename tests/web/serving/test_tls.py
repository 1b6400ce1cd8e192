"""TLS: files that do not serve are refused at the start, and a key that everybody may read is noticed."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from kb.base.trouble import Refusal
from webui.serving import tls


def test_what_is_no_certificate_with_its_key_is_refused_in_a_sentence(
    tmp_path: Path,
) -> None:
    text = tmp_path / "cert.pem"
    text.write_text("no certificate")

    for certificate in (text, tmp_path / "not-there.pem"):
        with pytest.raises(Refusal, match="are no certificate with its key"):
            tls.context(certificate, text)


def test_a_key_that_everybody_may_read_is_open(tmp_path: Path) -> None:
    key = tmp_path / "key.pem"
    key.touch()

    os.chmod(key, 0o644)
    assert tls.is_open(key)
    os.chmod(key, 0o640)
    assert not tls.is_open(key)
