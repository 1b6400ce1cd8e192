"""The folder of a program's user, by the custom of each system; what was there before stays in use."""

from __future__ import annotations

from pathlib import Path

import platformdirs
import pytest
from platformdirs import windows
from platformdirs.macos import MacOS
from platformdirs.windows import Windows

from kb.base import folders
from kb.base.trouble import Refusal

#: Where Windows keeps what a program has for its user on this computer (documentation of FOLDERID_LocalAppData).
WINDOWS = {"CSIDL_LOCAL_APPDATA": "AppData/Local"}


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty home."""
    for name in ("HOME", "USERPROFILE"):
        monkeypatch.setenv(name, str(tmp_path))
    monkeypatch.delenv("XDG_DATA_HOME", raising=False)
    monkeypatch.setattr(
        windows, "get_win_folder", lambda name: str(tmp_path / WINDOWS[name])
    )
    return tmp_path


def on_another_system(
    monkeypatch: pytest.MonkeyPatch, system: type[Windows | MacOS]
) -> None:
    """Let the kept library name folders as it does there."""

    def there(name: str, appauthor: bool) -> Path:
        return system(name, appauthor).user_data_path  # type: ignore[arg-type]

    monkeypatch.setattr(platformdirs, "user_data_path", there)


def test_on_linux_it_is_where_the_desktops_standard_says(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # XDG Base Directory Specification 0.8: $HOME/.local/share where XDG_DATA_HOME is not set
    assert folders.usual("a-shop") == home / ".local" / "share" / "a-shop"

    monkeypatch.setenv("XDG_DATA_HOME", "/elsewhere")
    assert folders.usual("a-shop") == Path("/elsewhere/a-shop")


@pytest.mark.parametrize(
    ("system", "place"),
    [(Windows, "AppData/Local"), (MacOS, "Library/Application Support")],
)
def test_elsewhere_it_is_where_that_system_keeps_such_unless_it_was_here_before(
    home: Path,
    monkeypatch: pytest.MonkeyPatch,
    system: type[Windows | MacOS],
    place: str,
) -> None:
    on_another_system(monkeypatch, system)
    assert folders.usual("a-shop") == home / place / "a-shop"

    before = home / ".local" / "share" / "a-shop"
    before.mkdir(parents=True)
    assert folders.usual("a-shop") == before
    assert folders.usual("another") == home / place / "another"


def test_where_the_system_knows_no_home_the_way_out_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def unknown(_: type[Path]) -> Path:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.delenv("XDG_DATA_HOME", raising=False)
    monkeypatch.setattr(Path, "home", classmethod(unknown))

    with pytest.raises(Refusal, match="--shop DIR or BENCHLORE_SHOP"):
        folders.usual("a-shop")
