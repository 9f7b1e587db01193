"""The ``evenloop`` command: the service's own calculations on files, and the service itself."""

from __future__ import annotations

import json
import os
import re
import sys
import threading
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any, NoReturn

import click
from rich.console import Console

from api import create_app
from api.command.terminal import show_problem, show_split
from api.resources.proof import prove_within
from api.service.http_server import make_server
from api.service.keys import hash_of
from api.service.keys import make_key as new_key
from api.service.request_log import start_logging
from api.settings import SettingsError, settings_from_environment

Json = dict[str, Any]
_PATH = "/v1/split"


@click.group()
@click.version_option(package_name="evenloop")
def main() -> None:
    """Flow, pressure and pump duty of ground arrays."""


@main.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the answer as JSON.")
def solve(file: Path, *, as_json: bool) -> None:
    """Solve the array of the job in FILE, as POST /v1/split does."""
    response = (
        create_app()
        .test_client()
        .post(_PATH, data=file.read_bytes(), content_type="application/json")
    )
    _report(response.status_code, json.loads(response.data), as_json=as_json)


@main.command()
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
    if in_production:
        _serve_in_production(host, port)
    server = _server(host, port)
    start_logging(settings_from_environment())
    click.echo(f"Evenloop listens on http://{host}:{server.effective_port}/v1 (Ctrl-C stops it)")
    server.run()


@main.command("make-key")
@click.argument("name")
def make_key(name: str) -> None:
    """Make a key for the caller NAME: the key for the caller, its hash for the service."""
    if not re.fullmatch(r"[A-Za-z0-9._-]{1,40}", name):
        raise click.ClickException("a name is 1 to 40 letters, digits, points, dashes or _")
    key = new_key()
    click.echo(f"For the caller, shown only now:  Authorization: Bearer {key}")
    click.echo(f"For the service, in EVENLOOP_API_KEYS:  {name}={hash_of(key)}")


@main.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the answer as JSON.")
def trial(file: Path, *, as_json: bool) -> None:
    """Start the service on a free port, post the job in FILE to it, show the split and stop."""
    server = _server("127.0.0.1", 0, proven=False)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    url = f"http://127.0.0.1:{server.effective_port}{_PATH}"
    try:
        status, body = _post(url, file.read_bytes())
    finally:
        server.task_dispatcher.shutdown()  # a worker may still be signalling the server
        server.close()
    click.echo(f"POST {url}: {status}", err=as_json)
    _report(status, body, as_json=as_json)


def _serve_in_production(host: str, port: int) -> NoReturn:
    """Become the supervisor of the workers."""
    try:
        settings_from_environment()  # so that what is wrong with them is said here, in one line
        from api.service import production  # noqa: PLC0415 (reads the settings when it is loaded)

        arguments, environment = production.command(host, port)
    except SettingsError as error:
        raise click.ClickException(str(error)) from error
    sys.stdout.flush()
    os.execvpe(arguments[0], arguments, environment)  # noqa: S606 (our own interpreter)


def _server(host: str, port: int, *, proven: bool = True) -> Any:  # noqa: ANN401 (waitress has three kinds of server)
    try:
        settings = settings_from_environment()
        app = prove_within(create_app(settings)) if proven else create_app(settings)
        return make_server(app, settings, address=(host, port))
    except SettingsError as error:
        raise click.ClickException(str(error)) from error
    except OSError as error:
        raise click.ClickException(f"cannot listen on {host}:{port}: {error.strerror}") from error


def _post(url: str, body: bytes) -> tuple[int, Json]:
    request = urllib.request.Request(  # noqa: S310 (our own loopback address)
        url, data=body, headers={"Content-Type": "application/json"}
    )
    try:
        with urllib.request.urlopen(request, timeout=60) as response:  # noqa: S310
            return response.status, json.load(response)
    except urllib.error.HTTPError as error:
        with error:
            return error.code, json.load(error)


def _report(status: int, body: Json, *, as_json: bool) -> None:
    """Print an answer for people or for tools; exit 2 where the request was refused."""
    if as_json:
        click.echo(json.dumps(body, indent=2, ensure_ascii=False))
    else:
        # A pipe or a log has no width of its own; 120 columns hold the table.
        console = Console(highlight=False, width=None if sys.stdout.isatty() else 120)
        (show_split if status == 200 else show_problem)(console, body)
    if status != 200:
        raise SystemExit(2)


if __name__ == "__main__":
    main()
