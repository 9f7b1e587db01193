"""What the service is told by its environment: read once, checked at start, refused by name."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Mapping
from dataclasses import Field, dataclass, field, fields, replace
from typing import Any, Final

PREFIX: Final = "EVENLOOP_"
_LONGEST: Final = 3_600  # s; the most that a calculation may be given


class SettingsError(ValueError):
    """A setting has a value that the service cannot start with; the message names each."""


def _limit(default: int, lowest: int, highest: int, meaning: str) -> int:
    """Declare one limit: default, range and meaning in one place."""
    declared: int = field(
        default=default, metadata={"lowest": lowest, "highest": highest, "meaning": meaning}
    )
    return declared


def _text(default: str, fits: Callable[[str], bool], allowed: str, meaning: str) -> str:
    """Declare one text: default, what it must look like and meaning in one place."""
    declared: str = field(
        default=default, metadata={"fits": fits, "allowed": allowed, "meaning": meaning}
    )
    return declared


LOG_LEVELS: Final = ("debug", "info", "warning", "error")
_ORIGIN: Final = re.compile(r"https?://(?:[a-z0-9.-]{1,253}|\[[0-9a-f:]{2,45}\])(?::\d{1,5})?")
_KEY: Final = re.compile(r"[A-Za-z0-9._-]{1,40}=[0-9a-f]{64}")


def listed(text: str) -> tuple[str, ...]:
    """Items of a text that separates them by commas."""
    return tuple(item for each in text.split(",") if (item := each.strip()))


def _are_origins(text: str) -> bool:
    return text.strip() == "*" or all(_ORIGIN.fullmatch(each) for each in listed(text))


def _are_keys(text: str) -> bool:
    keys = listed(text)
    names = {each.split("=")[0] for each in keys}
    return all(_KEY.fullmatch(each) for each in keys) and len(names) == len(keys)


def _is_line(text: str) -> bool:
    return text.isprintable()


def _is_database(text: str) -> bool:
    return not text or bool(re.fullmatch(r"(postgresql\+psycopg|sqlite)://\S+", text))


def _is_scheduler(text: str) -> bool:
    return not text or bool(re.fullmatch(r"(tcp|tls)://[\w.\[\]:-]+:\d+", text))


@dataclass(frozen=True, slots=True)
class Settings:
    """Limits of the service and how it is run.

    Attributes
    ----------
    max_body_bytes
        Largest request body [bytes].
    max_nesting
        Deepest nesting of JSON objects and lists; a circuit in a circuit takes three levels.
    max_loops
        Most loops in one array, equal ones counted each; in a batch, of all its arrays together.
        An array may have 15 times as many legs, runs and fittings, counted so too.
    max_corners
        Most corners of boundary, water and keep-outs of one plot together.
    max_states
        Most states in one table of fluid properties.
    max_picture_loops
        Most loops in one picture.
    max_batch
        Most arrays in one batch.
    max_seconds
        Longest time that one request may compute [s]; past it the request is ended.
    max_calculations
        Calculations under way at once in one worker process.
    max_waiting
        Calculations that wait for their turn in one worker; any more are turned away.
    max_wait_seconds
        Longest wait for a turn [s].
    rate_per_minute
        Calculations that one key, or one address without keys, may ask for in a minute; 0 for no
        limit.
    cache_bytes
        Most memory for answers kept in one worker [bytes]; 0 keeps none.
    api_keys
        Who may ask for calculations: ``name=hash`` of each key; empty lets anyone.
    cors_origins
        Origins whose pages may call the service from a browser; empty for none, ``*`` for all.
    studies_folder
        Folder of studies; empty for that of the user's state.
    database_url
        Database of studies, as SQLAlchemy writes it; empty for SQLite in that folder.
    dask_scheduler
        Address of the cluster that computes studies; empty to compute beside the service.
    max_study_cases
        Most cases of one study.
    max_studies
        Most studies that are kept for one key, or for all where there are no keys.
    study_days
        Days for which a study is kept once it has ended; 0 for ever.
    trusted_proxies
        Proxies in front of the service whose X-Forwarded-For, -Proto and -Host are believed.
    log_level
        Least level that is logged.
    workers
        Worker processes of ``serve --production``; 0 for one on each core.
    recycle_after
        Requests after which a worker is replaced by a fresh one; 0 for never.
    max_worker_mb
        Memory of its own past which a worker is replaced by a fresh one [MB]; 0 for never.
    stop_seconds
        Time that requests under way get when the service is stopped [s].
    idle_seconds
        Time in which a request must come whole, head and body, and after which a connection is
        closed on which nothing comes [s].
    backlog
        Connections that wait in the kernel to be accepted.
    max_connections
        Connections open at once in one worker; one more, and the one of them that has waited
        longest gives way.
    max_of_address
        Of these, most that one address may have; not kept where `trusted_proxies` is set.

    Raises
    ------
    SettingsError
        A setting is outside its range; each one at fault is named.
    """

    max_body_bytes: int = _limit(4_194_304, 1_024, 1_073_741_824, "largest request body, bytes")
    max_nesting: int = _limit(64, 8, 150, "deepest nesting of JSON objects and lists")
    max_loops: int = _limit(
        4_000,
        1,
        1_000_000,
        "most loops in one array, or in all arrays of a batch together; of legs, runs and fittings "
        "an array may have 15 times as many",
    )
    max_corners: int = _limit(
        500, 3, 500, "most corners of boundary, water and keep-outs of one plot together"
    )
    max_states: int = _limit(2_000, 1, 100_000, "most states in one table of fluid properties")
    max_picture_loops: int = _limit(1_000, 1, 10_000, "most loops in one picture")
    max_batch: int = _limit(300, 1, 10_000, "most arrays in one batch")
    max_seconds: int = _limit(
        30,
        1,
        _LONGEST,
        "longest time that one request may compute, s; past it the request is ended",
    )
    max_calculations: int = _limit(2, 1, 64, "calculations under way at once in one worker process")
    max_waiting: int = _limit(
        40, 0, 1_000, "calculations that wait for a turn in one worker; more are turned away (503)"
    )
    max_wait_seconds: int = _limit(5, 1, 600, "longest wait for a turn, s")
    rate_per_minute: int = _limit(
        0, 0, 1_000_000,
        "calculations a minute of one key (or one address, where no keys are set), counted in each "
        "worker; 0: no limit",
    )  # fmt: skip
    cache_bytes: int = _limit(
        33_554_432, 0, 17_179_869_184,
        "most memory for answers to identical requests in one worker, bytes; 0: none",
    )  # fmt: skip
    api_keys: str = _text(
        "", _are_keys, "name=hash pairs separated by commas, as evenloop make-key prints them",
        "hashes of the keys that may ask for calculations; empty: anyone may",
    )  # fmt: skip
    cors_origins: str = _text(
        "", _are_origins, "origins such as https://office.example separated by commas, or *",
        "origins whose pages may call the service from a browser; empty: none",
    )  # fmt: skip
    studies_folder: str = _text(
        "", _is_line, "the path of a folder",
        "folder of studies; empty: evenloop within XDG_STATE_HOME, or within ~/.local/state",
    )  # fmt: skip
    database_url: str = _text(
        "", _is_database, "postgresql+psycopg://user@host/database, or sqlite:/// and a path",
        "database of studies; empty: SQLite in their folder",
    )  # fmt: skip
    dask_scheduler: str = _text(
        "", _is_scheduler, "tcp:// or tls://, a host, : and a port",
        "scheduler of the Dask cluster that computes studies; empty: a process beside the service",
    )  # fmt: skip
    max_study_cases: int = _limit(1_000_000, 1, 10_000_000, "most cases of one study")
    max_studies: int = _limit(
        1_000, 1, 1_000_000, "most studies kept for one key, or for all where no keys are set"
    )
    study_days: int = _limit(
        90, 0, 36_500, "days for which a study is kept once it has ended; 0: for ever"
    )
    trusted_proxies: int = _limit(
        0, 0, 5, "proxies in front whose X-Forwarded-For, -Proto and -Host are believed"
    )
    log_level: str = _text(
        "info", LOG_LEVELS.__contains__, ", ".join(LOG_LEVELS), "least level that is logged"
    )
    workers: int = _limit(0, 0, 256, "worker processes of serve --production; 0: one on each core")
    recycle_after: int = _limit(
        100_000, 0, 1_000_000_000, "requests after which a worker is replaced; 0: never"
    )
    max_worker_mb: int = _limit(
        160, 0, 1_000_000,
        "memory of its own, beside what all workers share, past which a worker is replaced, once "
        "it has had it for longer than any request may compute, MB; 0: never",
    )  # fmt: skip
    stop_seconds: int = _limit(
        30, 1, 3_600, "time that requests under way get when the service is stopped, s"
    )
    idle_seconds: int = _limit(
        60, 1, 3_600,
        "time in which a request must come whole, and after which an idle connection is closed, s",
    )  # fmt: skip
    backlog: int = _limit(256, 1, 65_535, "connections that wait in the kernel to be accepted")
    max_connections: int = _limit(
        500, 10, 20_000,
        "connections open at once in one worker; for one more, the one that has waited longest "
        "without a whole request is closed",
    )  # fmt: skip
    max_of_address: int = _limit(
        200, 0, 20_000,
        "of these, most of one address; 0: no limit, as with EVENLOOP_TRUSTED_PROXIES",
    )  # fmt: skip

    def __post_init__(self) -> None:
        faults = [
            _fault(each, value)
            for each in fields(self)
            if not _fits(each, value := getattr(self, each.name))
        ]
        if faults:
            raise SettingsError("; ".join(faults))


def variable(name: str) -> str:
    """Name of a setting's environment variable."""
    return PREFIX + name.upper()


def allowed(setting: Field[Any]) -> str:
    """What a setting may be, in words."""
    said = setting.metadata
    if "lowest" in said:
        return f"a whole number from {said['lowest']:,} to {said['highest']:,}"
    return str(said["allowed"])


def _fits(setting: Field[Any], value: object) -> bool:
    said = setting.metadata
    if "lowest" in said:
        return type(value) is int and said["lowest"] <= value <= said["highest"]
    return type(value) is str and bool(said["fits"](value))


def _fault(setting: Field[Any], value: object) -> str:
    # What was meant to be a hash may be the key itself, and a URL may hold a password: never write
    # them anywhere.
    given = "wrong" if setting.name in ("api_keys", "database_url") else repr(value)
    return f"{variable(setting.name)} is {given}; it must be {allowed(setting)}"


def settings_from_environment(environment: Mapping[str, str] | None = None) -> Settings:
    """Read the settings from environment variables.

    Parameters
    ----------
    environment
        Variables; None for those of the process.

    Returns
    -------
    Settings
        A setting whose variable is absent or empty keeps its default.

    Raises
    ------
    SettingsError
        A variable does not fit, or begins with the prefix and is no setting (a misspelt limit
        would otherwise be ignored). Every one at fault is named.
    """
    given = os.environ if environment is None else environment
    known = {variable(each.name): each for each in fields(Settings)}
    faults = [
        f"{name} is no setting; the settings are {', '.join(known)}"
        for name in given
        if name.startswith(PREFIX) and name not in known
    ]
    values: dict[str, Any] = {}
    for name, each in known.items():
        text = given.get(name, "").strip()
        if not text:
            continue
        value: Any = text
        if "lowest" in each.metadata:
            value = int(text) if text.isascii() and text.isdigit() and len(text) < 20 else text[:40]
        if _fits(each, value):
            values[each.name] = value
        else:
            faults.append(_fault(each, value))
    if faults:
        raise SettingsError("; ".join(faults))
    return Settings(**values)


def settings_of_a_command(environment: Mapping[str, str] | None = None) -> Settings:
    """Read the settings for a command that computes here, for whoever called it.

    Parameters
    ----------
    environment
        Variables; None for those of the process.

    Returns
    -------
    Settings
        Without keys and rates, which are for those who come from outside. What is computed may
        take the longest that the setting takes unless it is set: who waits here can end it.

    Raises
    ------
    SettingsError
        As :func:`settings_from_environment` does.
    """
    given = os.environ if environment is None else environment
    settings = settings_from_environment(given)
    told = given.get(variable("max_seconds"), "").strip()
    seconds = settings.max_seconds if told else _LONGEST
    return replace(settings, api_keys="", rate_per_minute=0, max_seconds=seconds)


def settings_table() -> str:
    """Table of all settings in Markdown, as docs/configuration.md holds it."""
    lines = ["| variable | default | allowed | meaning |", "|---|---|---|---|"]
    for each in fields(Settings):
        default = f"{each.default:,}" if isinstance(each.default, int) else str(each.default)
        cells = (
            f"`{variable(each.name)}`",
            default or "empty",
            allowed(each),
            each.metadata["meaning"],
        )
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines)
