"""The ``evenloop`` command: the service's own calculations on files, and the service itself."""

from __future__ import annotations

import errno
import gc
import io
import json
import os
import re
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Final, NoReturn

import click

if TYPE_CHECKING:
    from flask import Flask

# The service, its engine and rich are loaded where they are used: who only wants the version, help
# or a completed word shall not wait for them.
# ruff: noqa: PLC0415

Json = dict[str, Any]
_PATH = "/v1/split"
_REFUSED: Final = 3
_FAILED: Final = 4
_UNWRITTEN: Final = 5
CALCULATIONS: Final = {
    "sizing": "Size the array of a job from its load, ground and plot.",
    "setting-out": "Place a job's array on its plot; tails and runs follow.",
    "split": "Flow, pressure and pump duty of a job's array.",
    "balancing": "Ways to make a job's array even.",
    "pump-choice": "Judge a job's pumps on its array.",
    "groundworks": "Digging, spoil, bedding and pipe to order of a job.",
    "commissioning": "Filling, purge, pressure test and proof of balance of a job.",
    "designs": "Every chapter that a job asks for.",
    "report": "The document to hand over.",
    "splits": "Many jobs at once.",
    "plot-file": "The plot that a file draws: .geojson, .dxf or .csv.",
    "fluid-properties": "Properties of mixtures.",
}
"""Addresses that take a body, each a command of its own, and what it does."""


class _Unwritten(click.ClickException):
    """An answer there is, but it could not be written."""

    exit_code = _UNWRITTEN


class _Lossy(io.FileIO):
    """Standard error, whose own faults there is nowhere to tell."""

    def write(self, said: Any, /) -> int:  # noqa: ANN401 (whatever has bytes)
        """Write what can be written; what cannot is lost, and the code at the end stays."""
        with suppress(OSError):
            return super().write(said) or 0
        return len(said)


class _Written(click.Group):
    """Commands that end once what they say is written, or tell in a line that it could not be."""

    def main(self, *words: Any, **options: Any) -> Any:  # noqa: ANN401 (as click has it)
        """Run a command, as ``click.Command.main`` does, and see its output written."""
        # Streams that the caller closed, in the order of their numbers, which files would take.
        if sys.stdin is None:  # nothing comes from it
            sys.stdin = Path(os.devnull).open(encoding="utf-8")  # noqa: SIM115 (kept)
        own = sys.stdout in (None, sys.__stdout__)
        if sys.stdout is None:  # a file that may only be read: what is written fails
            sys.stdout = os.fdopen(os.open(os.devnull, os.O_RDONLY), "w", encoding="utf-8")
        if sys.stderr is None:  # there is nowhere to tell
            sys.stderr = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 (kept)
        out, told = sys.stdout, sys.__stderr__
        if told is not None and sys.stderr is told and not told.isatty():
            lossy = io.BufferedWriter(_Lossy(told.fileno(), "wb", closefd=False))
            sys.stderr = io.TextIOWrapper(lossy, told.encoding, line_buffering=True)
        try:
            try:
                return super().main(*words, **options)
            finally:
                out.flush()
        except OSError as error:
            if own:
                # What it still holds, the interpreter would try to write once more at its end.
                with Path(os.devnull).open("wb") as nowhere:
                    os.dup2(nowhere.fileno(), out.fileno())
            if error.errno == errno.EPIPE:  # who reads has enough
                raise SystemExit(1) from error
            why = "it is closed" if error.errno == errno.EBADF else error.strerror
            unwritten = _Unwritten(f"cannot write to standard output: {why}")
            unwritten.show()
            raise SystemExit(unwritten.exit_code) from error


@click.group(
    cls=_Written,
    epilog="Exit codes: 0 done, 1 not done, 2 wrong command line, 3 refused, 4 failed, "
    "5 answer not written.",
)
@click.version_option(package_name="evenloop")
def main() -> None:
    """Flow, pressure and pump duty of ground arrays.

    A FILE of - is standard input. Answers go to standard output, errors to standard error.
    """
    for stream in (sys.stdout, sys.stderr):
        # A terminal that lacks a sign shows another in its place.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


@main.command(epilog="Example: evenloop solve job.json")
@click.argument("file", type=click.File("rb"))
@click.option("--json", "as_json", is_flag=True, help="Print the answer as JSON.")
def solve(file: BinaryIO, *, as_json: bool) -> None:
    """Solve the array of the job in FILE and show its loops as a table."""
    status, body = _asked(_PATH, _read(file))
    _report(status, json.loads(body), as_json=as_json)


def _read(file: BinaryIO) -> bytes:
    """All that a file holds."""
    try:
        return file.read()
    except OSError as error:
        raise click.ClickException(f"cannot read {file.name}: {error.strerror}") from error


def _asking(name: str, purpose: str) -> click.Command:
    """Command that asks one address."""

    def ask(file: BinaryIO, form: str, output: Path | None) -> None:
        path = _address(name, form, output)
        status, body = _asked(path, _read(file), _sent_as(name, getattr(file, "name", "-")))
        if status >= 400:
            _report(status, json.loads(body), as_json=False)
        if output is not None:
            try:
                output.write_bytes(body)
            except OSError as error:
                raise _Unwritten(f"cannot write {output}: {error.strerror}") from error
        elif body.startswith((b"%PDF", b"\x89PNG")) and sys.stdout.isatty():
            raise click.ClickException("this is no text for a terminal; name a file by --output")
        else:
            click.echo(body, nl=False)

    example = f"Example: evenloop {name} job.json --output answer.json"
    if name == "report":
        example = "Example: evenloop report job.json --output report.pdf"
    elif name == "plot-file":
        example = "Example: evenloop plot-file plan.dxf --output plot.json"
    elif name == "split":
        example = "Example: evenloop split job.json --as flows.svg --output flows.svg"
    made: Callable[..., None] = ask
    for decorate in (
        click.option(
            "--output", type=click.Path(dir_okay=False, path_type=Path), help="File to write to."
        ),
        click.option(
            "--as", "form", default="",
            help="Form of the answer, as its address ends: csv, pdf, html, flows.svg; else the "
            "one that the output's name ends in, else JSON.",
        ),
        click.argument("file", type=click.File("rb")),
    ):  # fmt: skip
        made = decorate(made)
    return click.command(name, help=purpose, epilog=example)(made)


for _name, _purpose in CALCULATIONS.items():
    main.add_command(_asking(_name, _purpose))


def _address(name: str, form: str, output: Path | None) -> str:
    """Address of the form asked for, else of the one that the output's name tells."""
    from api.contract.operations import OPERATIONS
    from api.media_types import PICTURES

    start = f"/v1/{name}"
    paths = {each.path.replace("{picture}", picture) for each in OPERATIONS for picture in PICTURES}
    forms = {
        each[len(start) + 1 :]: each
        for each in paths
        if each.startswith((f"{start}.", f"{start}/"))
    }
    asked, mark, query = form.lstrip("./").partition("?")
    if not form and output is not None:
        ending = output.suffix[1:].lower()
        kinds = {operation.path.rpartition(".")[2] for operation in OPERATIONS}
        asked = ending if ending in kinds else ""
    if asked in {"", "json"}:
        return start + mark + query
    fitting = [each for each in forms if asked == each or each.endswith(f".{asked}")]
    if len(fitting) == 1:
        return forms[fitting[0]] + mark + query
    known = ", ".join(sorted(fitting or {"json", *forms}))
    raise click.UsageError(f"{name} has no form {asked!r} alone; by --as give one of: {known}")


def _sent_as(name: str, file: str) -> str:
    """Media type of what is sent: of a plot's file, that which its name ends in."""
    from api.media_types import CSV, DXF, GEOJSON, JSON

    if name != "plot-file":
        return JSON
    known = {".geojson": GEOJSON, ".json": GEOJSON, ".dxf": DXF, ".csv": CSV}
    ending = Path(file).suffix.lower()
    if ending not in known:
        raise click.UsageError(f"{name} reads files that end in {', '.join(known)}")
    return known[ending]


def _asked(path: str, body: bytes, kind: str = "application/json") -> tuple[int, bytes]:
    """Status and body of what the service answers, without a server."""
    answer = _app().test_client().post(path, data=body, content_type=kind)
    return answer.status_code, answer.data


@contextmanager
def _loading() -> Iterator[None]:
    """Nothing that a program loads is rubbish: it is not gone through for any, now or later."""
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()


def _app() -> Flask:
    with _loading():
        from api.app import create_app
        from api.settings import SettingsError, settings_of_a_command

    try:
        return create_app(settings_of_a_command())
    except SettingsError as error:
        raise click.ClickException(str(error)) from error


@main.command(epilog="Example: evenloop serve --production --host 0.0.0.0 --port 8080")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", default=8080, show_default=True, type=click.IntRange(0, 65535))
@click.option(
    "--production",
    "in_production",
    is_flag=True,
    help="Serve on all cores by supervised workers, with metrics of all of them together.",
)
def serve(host: str, port: int, *, in_production: bool) -> None:
    """Serve the HTTP interface."""
    from api.service.memory import keep_one_pool, keep_tidy
    from api.service.request_log import start_logging
    from api.settings import settings_from_environment

    if in_production:
        _serve_in_production(host, port)
    keep_one_pool()
    server = _server(host, port)
    settings = settings_from_environment()
    start_logging(settings)
    if settings.max_worker_mb:
        keep_tidy()
    click.echo(f"Evenloop listens on http://{host}:{server.effective_port}/v1 (Ctrl-C stops it)")
    server.run()


@main.command(epilog="Example: evenloop study study.json --output rows.csv")
@click.argument("file", type=click.File("rb"))
@click.option(
    "--output", type=click.Path(dir_okay=False, path_type=Path),
    help="File to write to; Parquet where it ends in .parquet, else CSV.",
)  # fmt: skip
def study(file: BinaryIO, output: Path | None) -> None:
    """Compute every case of the study in FILE, and write its rows."""
    from rich.console import Console

    with _loading():
        from api.command.study import RefusedStudyError, computed_study, write_rows
        from api.settings import SettingsError, settings_of_a_command
        from api.studies.tables import has_parquet

    if output is not None and output.suffix == ".parquet" and not has_parquet():
        raise click.ClickException("Parquet is written by the extra parquet; it is not installed")
    console = Console(stderr=True)
    try:
        with computed_study(_read(file), settings_of_a_command(), console) as (done, store):
            try:
                write_rows(done, store, sys.stdout.buffer if output is None else output)
            except OSError as error:
                if output is None:
                    raise
                raise _Unwritten(f"cannot write {output}: {error.strerror}") from error
            problems = f", {done.failed:,} of them with a problem" if done.failed else ""
            console.print(f"{done.cases:,} cases{problems}")
    except RefusedStudyError as error:
        _report(error.status, error.problem, as_json=False)
    except SettingsError as error:
        raise click.ClickException(str(error)) from error


@main.command("make-key", epilog="Example: evenloop make-key drawing-office")
@click.argument("name")
def make_key(name: str) -> None:
    """Make a key for the caller NAME: the key for the caller, its hash for the service."""
    from api.service.keys import hash_of
    from api.service.keys import make_key as new_key

    if not re.fullmatch(r"[A-Za-z0-9._-]{1,40}", name):
        raise click.ClickException("a name is 1 to 40 letters, digits, points, dashes or _")
    key = new_key()
    click.echo(f"For the caller, shown only now:  Authorization: Bearer {key}")
    click.echo(f"For the service, in EVENLOOP_API_KEYS:  {name}={hash_of(key)}")


@main.command(epilog="Example: evenloop trial job.json")
@click.argument("file", type=click.File("rb"))
@click.option("--json", "as_json", is_flag=True, help="Print the answer as JSON.")
def trial(file: BinaryIO, *, as_json: bool) -> None:
    """Start the service on a free port, post the job in FILE to it, show the split and stop."""
    job = _read(file)
    server = _server("127.0.0.1", 0, proven=False)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    url = f"http://127.0.0.1:{server.effective_port}{_PATH}"
    try:
        status, body = _post(url, job)
    except (OSError, ValueError) as error:
        raise click.ClickException(f"no answer from {url}: {error}") from error
    finally:
        server.task_dispatcher.shutdown()  # a worker may still be signalling the server
        server.close()
    click.echo(f"POST {url}: {status}", err=as_json or status >= 400)
    _report(status, body, as_json=as_json)


def _serve_in_production(host: str, port: int) -> NoReturn:
    """Become the supervisor of the workers."""
    from api.settings import SettingsError, settings_from_environment

    try:
        settings_from_environment()  # so that what is wrong with them is said here, in one line
        from api.service import production

        arguments, environment = production.command(host, port)
    except SettingsError as error:
        raise click.ClickException(str(error)) from error
    except OSError as error:
        raise click.ClickException(f"no room for the metrics: {error.strerror}") from error
    sys.stdout.flush()
    os.execvpe(arguments[0], arguments, environment)  # noqa: S606 (our own interpreter)


def _server(host: str, port: int, *, proven: bool = True) -> Any:  # noqa: ANN401 (waitress has three kinds of server)
    with _loading():
        from api.app import create_app
        from api.resources.proof import prove_within
        from api.resources.studies import run_beside
        from api.service.http_server import make_server
        from api.settings import SettingsError, settings_from_environment

    try:
        settings = settings_from_environment()
        app = create_app(settings)
        if proven:
            app = run_beside(prove_within(app))
        return make_server(app, settings, address=(host, port))
    except SettingsError as error:
        raise click.ClickException(str(error)) from error
    except OSError as error:
        raise click.ClickException(f"cannot listen on {host}:{port}: {error.strerror}") from error


def _post(url: str, body: bytes) -> tuple[int, Json]:
    import urllib.error
    import urllib.request

    request = urllib.request.Request(  # noqa: S310 (our own loopback address)
        url, data=body, headers={"Content-Type": "application/json"}
    )
    direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        with direct.open(request, timeout=60) as response:
            return response.status, json.load(response)
    except urllib.error.HTTPError as error:
        with error:
            return error.code, json.load(error)


def _report(status: int, body: Json, *, as_json: bool) -> None:
    """Print an answer for people or for tools; end with a code where the request was refused."""
    from rich.console import Console

    from api.command.terminal import show_problem, show_split

    good = status < 400
    if as_json:
        click.echo(json.dumps(body, indent=2, ensure_ascii=False), err=not good)
    else:
        stream = sys.stdout if good else sys.stderr
        # A pipe or a log has no width of its own; 120 columns hold the table.
        width = None if stream.isatty() else 120
        console = Console(highlight=False, width=width, file=stream)
        (show_split if good else show_problem)(console, body)
    if not good:
        raise SystemExit(_REFUSED if status < 500 else _FAILED)


if __name__ == "__main__":
    main()
