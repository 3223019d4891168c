"""Commands on the data that the tool works with: trades, weights."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from voicereport.cli import common
from voicereport.cli.common import JsonOption

trades = typer.Typer(help="Trade packs: list, check.", no_args_is_help=True)
weights = typer.Typer(help="Weights of the recognisers: list, verify, fetch.", no_args_is_help=True)


def register(app: typer.Typer) -> None:
    """Add this module's commands to the program."""
    app.add_typer(trades, name="trades")
    app.add_typer(weights, name="weights")


@trades.command("list")
def list_packs(as_json: JsonOption = False) -> None:
    """Name the trade packs that are there."""
    from voicereport.trades import list_trades, load_trade

    rows = [{"id": name, "title": load_trade(name).title} for name in list_trades()]
    if as_json:
        return common.print_json(rows)
    for row in rows:
        typer.echo(f"{row['id']:24}{row['title']}")


@trades.command("check")
def check_packs(
    names: Annotated[list[str] | None, typer.Argument(help="Trade packs; without any, all of them.")] = None,
    as_json: JsonOption = False,
) -> int:
    """Look for every fault in trade packs."""
    from voicereport.errors import PackError
    from voicereport.trades import list_trades, load_trade

    faults = {}
    for name in names or list_trades():
        try:
            load_trade(name)
        except PackError as error:
            faults[name] = str(error)
        if not as_json:
            typer.echo(f"{name}: {faults.get(name, 'no fault found')}")
    if as_json:
        common.print_json(faults)
    return 3 if faults else 0


@weights.command("list")
def list_weights(as_json: JsonOption = False) -> None:
    """Name the weights that can be used, and say which are here."""
    from voicereport.speech.weights import weights_status

    rows = weights_status()
    if as_json:
        return common.print_json(rows)
    for row in rows:
        typer.echo(f"{row['name']:16}{row['engine']:18}{row['state']}")


@weights.command("verify")
def verify_weights(as_json: JsonOption = False) -> int:
    """Compare the digest of every weights file that is here with the published one."""
    from voicereport.speech.weights import verify_all

    rows = verify_all()
    if as_json:
        common.print_json(rows)
    else:
        for row in rows:
            typer.echo(f"{row['name']:16}{row['state']}")
    return 3 if any(row["state"] == "wrong" for row in rows) else 0


@weights.command("fetch")
def fetch_weights(
    name: Annotated[str, typer.Argument(help="Weights; see `voicereport weights list`.")],
    folder: Annotated[Path | None, typer.Option(help="Where to; without it, the cache.")] = None,
) -> None:
    """Get weights from where they are published, and check their digest."""
    from voicereport.speech.weights import fetch

    with common.progress_bar() as progress:
        typer.echo(fetch(name, folder=folder, progress=progress))
