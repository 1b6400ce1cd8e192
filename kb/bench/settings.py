"""The settings of a shop, in its `shop.toml`: zone, what it lacks, whence machines come, how jobs are believed."""

from __future__ import annotations

import math
import os
import re
import threading
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import tzinfo
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from kb.base import tomltext
from kb.base.durable import make_folder, write_whole
from kb.base.trouble import NotThere, Refusal, Trouble
from kb.base.worded import listed, worded
from kb.language.nearest import nearest
from kb.library.customs import is_library, shipped_customs
from kb.library.trade import Trade
from kb.machines.cost.money import is_currency

FILE = "shop.toml"
LACKS, HALF_LIFE, ZONE, MACHINES_FROM = (
    "lacks",
    "half_life_days",
    "zone",
    "machines_from",
)
HOURLY, CURRENCY, LANGUAGE = "hourly_cents", "currency", "language"
#: The folder of the library, where it is not the one that ships.
LIBRARY = "library"
#: Whether what other shops had is believed; it is unless the file says false.
ELSEWHERE = "elsewhere"
#: The most that an hour may cost, in the smallest unit of money.
MOST_HOURLY = 10_000_000
#: Where the machines of a shop come from; the first is meant where nothing is said.
COUNTER, PALLET = "counter", "pallet"
SOURCES = (COUNTER, PALLET)
#: The time zone in the environment; it wins over that of the file.
ZONE_VARIABLE = "BENCHLORE_ZONE"
#: What may stand in the file.
KNOWN_KEYS = frozenset(
    (
        LACKS,
        HALF_LIFE,
        ZONE,
        MACHINES_FROM,
        HOURLY,
        CURRENCY,
        LANGUAGE,
        LIBRARY,
        ELSEWHERE,
    )
)
#: The shortest and the longest half-life of a job, in days.
LEAST_DAYS, MOST_DAYS = 1.0, 36_500.0
#: Days of a unit; months and years are those of a calendar without leap years.
_DAYS = {"": 1.0, "d": 1.0, "w": 7.0, "m": 365 / 12, "y": 365.0}


class SettingsTrouble(Trouble):
    """The settings cannot be read or written; nothing was changed."""


class UnknownTool(NotThere):
    """A name that is no part or tool."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What the shop lacks, the days after which a job counts half (0: all count alike), and what is wrong in words.

    `machines_from` is one of `SOURCES`: causes have another weight on machines from a pallet.

    `zone` is the time zone whose midnight a day begins at, None for that of the computer. Times are kept in UTC and
    only shown in it. `hourly_cents` is what an hour of work costs, in the smallest unit of `currency`, a code of
    ISO 4217 or empty. `language` is that of the pages by its code, such as de; empty leaves it to the browser.
    `library` is the folder of the library as it is written, empty for the one that ships. `elsewhere` says whether the
    counts of other shops are believed.
    """

    lacks: frozenset[str] = frozenset()
    half_life_days: float = 0.0
    zone: tzinfo | None = None
    problem: str = ""
    machines_from: str = COUNTER
    hourly_cents: int = 0
    currency: str = ""
    language: str = ""
    library: str = ""
    elsewhere: bool = True


class SettingsFile:
    """The settings of a shop, read again whenever their file has changed; safe for several threads."""

    def __init__(
        self,
        shop: Path,
        environment: Mapping[str, str] = os.environ,
        trade: Callable[[], Trade] | None = None,
    ) -> None:
        self.path = shop / FILE
        self._trade = trade or shipped_customs().trade
        self._environment = environment
        self._read: tuple[object, Settings] = (None, Settings())
        self._writing = threading.Lock()

    def now(self) -> Settings:
        """The settings as the file says; what cannot be read counts as not set, and `problem` says so."""
        stamp = self._stamp()
        seen, found = self._read
        if stamp != seen:
            found = self._settings()
            self._read = (stamp, found)
        return found

    def change_tools(self, lack: Iterable[str] = (), have: Iterable[str] = ()) -> None:
        """Note tools and parts as lacking or as there (which wins); all else in the file stays as it is.

        Raises UnknownTool for a name that is none, SettingsTrouble for a file that cannot be read or written.
        """
        with self._writing:
            text, listed = self._text_and_names()
            trade = self._trade()
            gone = {_known(name, trade, listed) for name in have}
            kept = {trade.spelled(name) or name for name in listed} | {
                _known(name, trade) for name in lack
            }
            if kept - gone != set(listed):
                self._write(text, LACKS, sorted(kept - gone))

    def set_half_life(self, days: float) -> None:
        """Let a job count half after so many days, 0 for never; Refusal for fewer than one or too many.

        Raises SettingsTrouble for a file that cannot be read or written.
        """
        if not _is_half_life(days):
            raise Refusal(
                worded(
                    "a half-life is {least_days:g} to {most_days:g} days, or 0 for none",
                    least_days=LEAST_DAYS,
                    most_days=MOST_DAYS,
                )
            )
        with self._writing:
            text = self._text()
            if days or HALF_LIFE in tomllib.loads(text):
                self._write(text, HALF_LIFE, days)

    def set_zone(self, name: str) -> None:
        """Note the time zone by its IANA name, empty for that of the computer; Refusal for a name that is none.

        Raises SettingsTrouble for a file that cannot be read or written.
        """
        if name:
            try:
                ZoneInfo(name.strip())
            except (OSError, ValueError, LookupError):
                raise Refusal(
                    worded(
                        "`{name}` is no time zone; write one such as Europe/Oslo",
                        name=name.strip()[:60],
                    )
                ) from None
        with self._writing:
            text = self._text()
            if name or ZONE in tomllib.loads(text):
                self._write(text, ZONE, name.strip())

    def set_source(self, source: str) -> None:
        """Note where the machines come from, one of `SOURCES`; Refusal for anything else.

        Raises SettingsTrouble for a file that cannot be read or written.
        """
        if source not in SOURCES:
            raise Refusal(
                worded(
                    "machines come from the {sources}, not from `{source}`",
                    sources=" or a ".join(SOURCES),
                    source=source[:60],
                )
            )
        with self._writing:
            text = self._text()
            if source != tomllib.loads(text).get(MACHINES_FROM, COUNTER):
                self._write(text, MACHINES_FROM, source)

    def set_money(self, hourly_cents: int | None = None, currency: str = "") -> None:
        """Note what an hour of work costs, and in which currency money is counted; what is left out stays.

        Refusal for what is neither; raises SettingsTrouble for a file that cannot be read or written.
        """
        if hourly_cents is not None and not 0 <= hourly_cents <= MOST_HOURLY:
            raise Refusal(
                worded(
                    "an hour costs 0 to {most_hourly} of the smallest unit of money",
                    most_hourly=MOST_HOURLY,
                )
            )
        if currency and not is_currency(currency):
            raise Refusal(
                worded(
                    "`{currency}` is no currency; write its three capital letters, such as EUR",
                    currency=currency[:20],
                )
            )
        with self._writing:
            if currency:
                self._write(self._text(), CURRENCY, currency)
            if hourly_cents is not None:
                self._write(self._text(), HOURLY, hourly_cents)

    def set_language(self, code: str) -> None:
        """Note the language of the pages by its code, empty for whatever a browser asks for; Refusal for no code.

        Raises SettingsTrouble for a file that cannot be read or written.
        """
        if not re.fullmatch("[a-z]{2,3}|", code):
            raise Refusal(
                worded(
                    "`{code}` is no language; write its code, such as de",
                    code=code[:20],
                )
            )
        with self._writing:
            text = self._text()
            if code != tomllib.loads(text).get(LANGUAGE, ""):
                self._write(text, LANGUAGE, code)

    def set_library(self, folder: Path) -> None:
        """Note the folder of the library that the shop works with; Refusal for one that holds no library.

        Raises SettingsTrouble for a file that cannot be read or written.
        """
        if not is_library(folder):
            raise Refusal(
                worded(
                    "{folder} holds no library; benchlore new-library {folder} makes one",
                    folder=folder,
                )
            )
        place, shop = folder.resolve(), self.path.parent.resolve()
        if place.is_relative_to(shop):  # it goes wherever the shop's folder goes
            place = place.relative_to(shop)
        with self._writing:
            self._write(self._text(), LIBRARY, place.as_posix())

    def take_up_library(self) -> bool:
        """Whether the shop works from now on with the library that a backup brought: only where its own is not there.

        Raises SettingsTrouble for a file that cannot be read or written.
        """
        brought = self.path.parent / LIBRARY
        if not self._no_library() or not is_library(brought):
            return False
        self.set_library(brought)
        return True

    def _no_library(self) -> str:
        """That the library named in the file is not there, empty if it is or none is named."""
        try:
            library_of(self.path.parent)
        except SettingsTrouble as trouble:
            return trouble.sentence
        return ""

    def set_elsewhere(self, believed: bool) -> None:
        """Note whether the counts of other shops are believed.

        Raises SettingsTrouble for a file that cannot be read or written.
        """
        with self._writing:
            text = self._text()
            if believed != tomllib.loads(text).get(ELSEWHERE, True):
                self._write(text, ELSEWHERE, believed)

    def _stamp(self) -> object:
        try:
            found = self.path.stat()
        except OSError as error:
            return error.errno
        return found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns

    def _settings(self) -> Settings:
        try:
            given = tomllib.loads(self._text())
        except SettingsTrouble as trouble:
            zone, _ = self._zone("")
            unset = worded(
                "until then no tool counts as lacking and all jobs count alike"
            )
            return Settings(zone=zone, problem=listed([trouble.sentence, unset]))
        lacks, missed = _lacks(given.get(LACKS, []), self.path, self._trade())
        days, wrong = _half_life(given.get(HALF_LIFE, 0), self.path)
        zone, nowhere = self._zone(str(given.get(ZONE, "")).strip())
        source, strange = _source(given.get(MACHINES_FROM, COUNTER), self.path)
        hourly, odd = _hourly(given.get(HOURLY, 0), self.path)
        currency, foreign = _currency(given.get(CURRENCY, ""), self.path)
        elsewhere, unclear = _elsewhere(given.get(ELSEWHERE, True), self.path)
        problems = [missed, wrong, nowhere, strange, odd, foreign, unclear]
        problems.append(self._no_library())
        return Settings(
            lacks=lacks,
            half_life_days=days,
            zone=zone,
            problem=listed([told for told in problems if told]),
            machines_from=source,
            hourly_cents=hourly,
            currency=currency,
            language=str(given.get(LANGUAGE, "")).strip().lower()[:20],
            library=str(given.get(LIBRARY, "")),
            elsewhere=elsewhere,
        )

    def _zone(self, in_file: str) -> tuple[tzinfo | None, str]:
        """The zone by its IANA name, such as Europe/Oslo, and what is wrong with one that is none."""
        told = self._environment.get(ZONE_VARIABLE, "").strip()
        name, where = (told, ZONE_VARIABLE) if told else (in_file, str(self.path))
        if not name:
            return None, ""
        try:
            return ZoneInfo(name), ""
        except (OSError, ValueError, LookupError):
            return None, (
                worded(
                    "`{name}` in {where} names no time zone; write one such as Europe/Oslo (times are in this "
                    "computer's zone)",
                    name=name[:60],
                    where=where,
                )
            )

    def _text(self) -> str:
        """The file's text, empty if there is none; it can be read as TOML."""
        try:
            text = self.path.read_bytes().decode("utf-8")
            tomllib.loads(text)
        except FileNotFoundError:
            return ""
        except (OSError, ValueError, RecursionError) as error:
            raise SettingsTrouble(
                worded(
                    "{path} cannot be read ({error}); mend that line or remove the file",
                    path=self.path,
                    error=error,
                )
            ) from error
        return text

    def _text_and_names(self) -> tuple[str, list[str]]:
        text = self._text()
        listed = tomllib.loads(text).get(LACKS, [])
        if not tomltext.is_names(listed):
            raise SettingsTrouble(_no_names(self.path))
        return text, listed

    def _write(self, text: str, key: str, value: tomltext.Value) -> None:
        try:
            fresh = tomltext.with_value(text, key, value)
            make_folder(self.path.parent)
            write_whole(self.path, fresh.encode("utf-8"))
        except (OSError, ValueError) as error:
            told = getattr(error, "strerror", None) or error
            raise SettingsTrouble(
                worded(
                    "{path} cannot be changed ({told}); nothing was saved",
                    path=self.path,
                    told=told,
                )
            ) from error


def days_of(text: str) -> float:
    """The days of a half-life as a person writes it: a number with d, w, m or y behind it; `off` is 0.

    Refusal for anything else.

    >>> days_of("2y"), days_of("18 m"), days_of("6w"), days_of("90d"), days_of("off")
    (730.0, 547.5, 42.0, 90.0, 0.0)
    """
    if text.strip().casefold() == "off":
        return 0.0
    match = re.fullmatch(
        r"([0-9]{1,6}(?:\.[0-9]{1,6})?)\s*([dwmy]?)", text.strip().casefold(), re.ASCII
    )
    if match and not match[2]:
        raise Refusal(
            worded(
                "`{text}` may be days or years; write {match}d, {match}w, {match}m or {match}y",
                text=text.strip(),
                match=match[1],
            )
        )
    if match is None:
        raise Refusal(
            worded(
                "`{text}` is no length of time; write it as 2y, 18m, 6w, 90d or off",
                text=text[:60],
            )
        )
    return float(match[1]) * _DAYS[match[2]]


def library_of(shop: Path) -> Path | None:
    """The folder of the library that a shop's settings name, from the shop's own folder on; None for what ships.

    Raises SettingsTrouble where they name a folder that holds no library, or cannot be read: with the sheets of another
    trade nobody should repair.
    """
    path = shop / FILE
    named = tomltext.value_in(path, LIBRARY)
    if named in (None, ""):
        return None
    folder = shop / os.path.expanduser(str(named))
    if not is_library(folder):
        raise SettingsTrouble(_names_no_library(path))
    return folder


def _names_no_library(path: Path) -> str:
    return worded(
        "`{key}` in {path} names no library; benchlore settings --library DIR names the folder that holds its sheets "
        "and house/",
        key=LIBRARY,
        path=path,
    )


def _known(name: str, trade: Trade, listed: Iterable[str] = ()) -> str:
    """The one spelling of a part or tool; a name that the file already lists may be any."""
    found = trade.spelled(name) or (name if name in listed else "")
    if not found:
        near = nearest(name[:60], sorted(trade.names))
        instead = (
            worded("did you mean `{near}`?", near=near)
            if near
            else worded("`benchlore tools` lists those that the entries need")
        )
        raise UnknownTool(
            worded(
                "`{name}` is no known tool or part; {instead}; one of your own is named in entries/house/own.toml",
                name=name[:60],
                instead=instead,
            )
        )
    return found


def _lacks(given: Any, path: Path, trade: Trade) -> tuple[frozenset[str], str]:
    """The known names of a list, and what is wrong with the others."""
    if not tomltext.is_names(given):
        return frozenset(), worded(
            "{problem}; until then nothing counts as lacking", problem=_no_names(path)
        )
    found, wrong = set(), []
    for name in given:
        try:
            found.add(_known(name, trade))
        except UnknownTool as unknown:
            wrong.append(
                worded(
                    "`{lacks}` in {path}: {problem}",
                    lacks=LACKS,
                    path=path,
                    problem=unknown.sentence,
                )
            )
    return frozenset(found), listed(wrong)


def _half_life(given: Any, path: Path) -> tuple[float, str]:
    if (
        isinstance(given, int | float)
        and not isinstance(given, bool)
        and _is_half_life(given)
    ):
        return float(given), ""
    return 0.0, (
        worded(
            "`{half_life}` in {path} must be a number of days from {least_days:g} to {most_days:g}, or 0 "
            "for off; until then all jobs count alike",
            half_life=HALF_LIFE,
            path=path,
            least_days=LEAST_DAYS,
            most_days=MOST_DAYS,
        )
    )


def _source(given: Any, path: Path) -> tuple[str, str]:
    if given in SOURCES:
        return str(given), ""
    listed = " or ".join(f'"{source}"' for source in SOURCES)
    return COUNTER, worded(
        "`{machines_from}` in {path} must be {listed}; until then it is {counter}",
        machines_from=MACHINES_FROM,
        path=path,
        listed=listed,
        counter=COUNTER,
    )


def _hourly(given: Any, path: Path) -> tuple[int, str]:
    is_number = isinstance(given, int | float) and not isinstance(given, bool)
    if is_number and given == given // 1 and 0 <= given <= MOST_HOURLY:
        return int(given), ""
    return 0, worded(
        "`{hourly}` in {path} must be whole cents, such as 3600; until then work costs nothing",
        hourly=HOURLY,
        path=path,
    )


def _currency(given: Any, path: Path) -> tuple[str, str]:
    if given == "" or (isinstance(given, str) and is_currency(given)):
        return given, ""
    return "", worded(
        "`{currency}` in {path} must be the three letters of a currency, such as EUR; until then none is shown",
        currency=CURRENCY,
        path=path,
    )


def _elsewhere(given: Any, path: Path) -> tuple[bool, str]:
    if isinstance(given, bool):
        return given, ""
    return True, worded(
        "`{elsewhere}` in {path} must be true or false; until then other shops count",
        elsewhere=ELSEWHERE,
        path=path,
    )


def _is_half_life(days: float) -> bool:
    return days == 0 or (math.isfinite(days) and LEAST_DAYS <= days <= MOST_DAYS)


def _no_names(path: Path) -> str:
    return worded(
        '`{lacks}` in {path} must be a list of names such as ["multimeter"]; mend that line',
        lacks=LACKS,
        path=path,
    )
