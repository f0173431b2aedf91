"""`steadfeed serve`: the API and the phone's app on this machine."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from steadfeed.cli.root import VERBS

if TYPE_CHECKING:
    from steadfeed.web.serving import Served


@click.command("serve", short_help=VERBS.get("serve", ""))
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8765, show_default=True, help="Port; 0 takes a free one."
)
@click.option(
    "--host",
    default="localhost",
    show_default=True,
    metavar="ADDRESS",
    help="Address to answer on; a private one of this machine, or 0.0.0.0, serves the local network too.",
)
@click.option(
    "--store", metavar="FILE|URL", help="Store of the records; else STEADFEED_STORE, else your own data folder."
)
@click.option("--browser/--no-browser", default=True, show_default=True, help="Open the browser.")
def command(port: int, host: str, store: str | None, browser: bool) -> int:
    """Serve steadfeed to a browser on this machine.

    Prints a link that opens a session once, within ten minutes. Nothing outside this machine is asked or answered, unless
    --host names the local network: then phones are paired over TLS, with the certificate of this installation's own
    authority (port + 1), which one page of plain HTTP shows (port + 2).
    """
    from steadfeed.visit.session import which_store
    from steadfeed.web.serving import check_parts, serve

    check_parts()
    serve(which_store(store), host=host, port=port, open_browser=browser, say=_say)
    return 0


def _say(served: Served) -> None:
    click.echo(f"steadfeed answers at {served.address} with the records in {served.store}.")
    click.echo(f"Open once, within 10 minutes: {served.link}")
    if served.network is not None:
        click.echo(f"On the local network: {served.network}")
        click.echo(f"A phone first gets the certificate at {served.certificate_page} and compares this fingerprint:")
        click.echo(f"  {served.fingerprint}")
        click.echo("Then make a pairing link under More, Devices.")
    click.echo("steadfeed advises; it is not a safety device. Stop with Ctrl-C.")
