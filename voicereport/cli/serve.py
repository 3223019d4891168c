"""The command that serves the pages: serve."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicereport.cli import common
from voicereport.cli.store_commands import STORE, DatabaseOption, HeadOption

if TYPE_CHECKING:
    from fastapi import FastAPI

    from voicereport.settings import Settings
    from voicereport.store import Store


def register(app: typer.Typer) -> None:
    """Add this module's commands to the program."""
    app.command("serve")(serve)


def serve(
    context: typer.Context,
    host: Annotated[str, typer.Option(help="Address to listen at; the loopback address unless you say so.")] = (
        "127.0.0.1"
    ),
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port to listen at.")] = 8460,
    data: Annotated[
        Path, typer.Option("--data", "--store", help="Folder of the database, recordings and documents.")
    ] = STORE,
    database: DatabaseOption = None,
    head_file: HeadOption = None,
    name: Annotated[
        list[str] | None, typer.Option(help="Host name that people use for this server; may be given several times.")
    ] = None,
    certificate: Annotated[Path | None, typer.Option(help="TLS certificate chain, PEM.")] = None,
    key: Annotated[Path | None, typer.Option(help="Its private key, PEM.")] = None,
    proxy: Annotated[str | None, typer.Option(help="Address of a proxy whose forwarded headers are trusted.")] = None,
    work: Annotated[bool, typer.Option("--work/--no-work", help="Whether this process also works on jobs.")] = True,
) -> None:
    """Serve the pages of the technician, the office and the supervisor.

    Example: voicereport serve --data /srv/voicereport
    """
    import uvicorn

    from voicereport.errors import SettingsError
    from voicereport.store import address, open_store
    from voicereport.web.work import Worker

    if (certificate is None) != (key is None):
        raise SettingsError("--certificate", "needs --key beside it, and the other way round", "give both or none")
    settings = common.settings_of(context)
    data.mkdir(parents=True, exist_ok=True)
    store = open_store(address(data, database), data, head=head_file)
    app = _app(settings, store, data, (host, *(name or [])))
    worker = Worker(app.state.site) if work else None
    scheme = "https" if certificate else "http"
    common.say(f"{scheme}://{f'[{host}]' if ':' in host else host}:{port}/")
    if host not in ("127.0.0.1", "::1", "localhost") and not certificate and not proxy:
        common.say("without --certificate, passwords and sound cross the network in the clear")
    if worker is not None:
        worker.start()
    try:
        uvicorn.run(
            app, host=host, port=port, log_level="warning", access_log=False, server_header=False,
            proxy_headers=proxy is not None, forwarded_allow_ips=proxy or "",
            ssl_certfile=certificate, ssl_keyfile=key, timeout_keep_alive=15, ws_max_size=4_000_000,
        )  # fmt: skip
    finally:
        if worker is not None:
            worker.stop()
        store.close()


def _app(settings: Settings, store: Store, data: Path, names: tuple[str, ...]) -> FastAPI:
    from voicereport.web import create_app
    from voicereport.web.options import WebOptions

    hosts = ("localhost", "127.0.0.1", "::1", *(name.lower() for name in names if name not in ("0.0.0.0", "::")))
    return create_app(settings, store, WebOptions(folder=data, hosts=hosts))
