"""The ``snapline`` command."""

import click

from snapline_service.cli.access import groups, keys
from snapline_service.cli.catalogue import catalogue
from snapline_service.cli.drafting import approve, drop, rebase, send_back, settle, submit
from snapline_service.cli.errors import Plain
from snapline_service.cli.reviewing import audit, diff, impact_, validate
from snapline_service.cli.serving import demo, migrate, serve, write_contract
from snapline_service.cli.sheet import sheet
from snapline_service.cli.sites import sites
from snapline_service.cli.spreadsheets import from_spreadsheet, to_spreadsheet
from snapline_service.cli.webhooks import webhooks


@click.group(cls=Plain)
@click.version_option(package_name="snapline-service", prog_name="snapline")
def main() -> None:
    """Say what must be calibrated on a car after a repair, with which fixtures, and where they stand.

    Start with `snapline demo`. Settings come from options or from the environment: SNAPLINE_DATABASE
    (sqlite:///snapline.db), SNAPLINE_DATA (folder of revision files), SNAPLINE_SECRET (keys the stored hashes
    of API keys; hosts that share a database share it).
    """


for _command in (
    *(validate, diff, impact_, audit, to_spreadsheet, from_spreadsheet),
    *(submit, approve, send_back, rebase, settle, drop),
):
    catalogue.add_command(_command)
for _command in (demo, sheet, serve, migrate, catalogue, sites, groups, keys, webhooks, write_contract):
    main.add_command(_command)
