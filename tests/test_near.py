"""What `poe near` runs: the tests that mirror what was changed."""

from __future__ import annotations

import subprocess
from pathlib import Path

from helpers.near import ALWAYS, changed_since, near


def test_a_module_brings_its_examples_and_the_tests_in_its_mirrored_folder() -> None:
    told = near(["kb/language/spacing.py", "webui/pages/job_page.py"])

    assert told == [
        "kb/language/spacing.py",
        "webui/pages/job_page.py",
        "tests/web/pages/test_job_page.py",
        *ALWAYS,
    ]


def test_sentences_and_templates_bring_the_catalogues() -> None:
    assert "tests/web/test_catalogues.py" in near(["kb/library/gates.py"])
    assert "tests/web/test_catalogues.py" in near(["webui/templates/job.html"])
    assert "tests/web/test_catalogues.py" not in near(["kb/base/pooling.py"])


def test_what_is_gone_is_not_run_and_nothing_twice() -> None:
    told = near(["kb/base/gone.py", "tests/base/test_pooling.py", "kb/base/pooling.py"])

    assert told == ["tests/base/test_pooling.py", "kb/base/pooling.py", *ALWAYS]


def test_what_is_committed_changed_and_new_since_the_branch_left_counts(
    tmp_path: Path,
) -> None:
    def git(*asked: str) -> None:
        named = ("-c", "user.name=Ada", "-c", "user.email=ada@example.org")
        subprocess.run(
            ("git", *named, *asked), cwd=tmp_path, check=True, capture_output=True
        )

    git("init", "--initial-branch=main")
    for name in ("committed", "changed", "same"):
        (tmp_path / name).write_text("before")
    git("add", ".")
    git("commit", "-m", "the tree")
    git("checkout", "-b", "branch")
    (tmp_path / "committed").write_text("after")
    git("commit", "-a", "-m", "a change")
    (tmp_path / "changed").write_text("after")
    (tmp_path / "new").write_text("")
    git("checkout", "main")
    git("commit", "--allow-empty", "-m", "what others have landed")
    git("checkout", "branch")

    assert changed_since("main", tmp_path) == ["changed", "committed", "new"]
