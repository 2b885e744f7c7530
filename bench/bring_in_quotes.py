"""Bring 10,000 quotes in from a sheet over the database of DATABASE_URL; prints a JSON object for `measure_quotes`."""

import json
import time
from datetime import timedelta
from typing import Any

import django

django.setup()

from django.core.management import call_command  # noqa: E402

from bench import big_project  # noqa: E402
from bench.big_project import NOW, TODAY  # noqa: E402
from budget.calc.sheets.grid import Grid  # noqa: E402
from budget.models import LineItem, Quote, Trade  # noqa: E402
from budget.services import imports, ledger  # noqa: E402
from projects.models import Project, User  # noqa: E402
from reports.sheets import reading  # noqa: E402

LINES, QUOTES, VENDORS = 2_000, 10_000, 300


def project() -> Project:
    """2,000 lines in 20 trades, and nothing else."""
    made = big_project._project("bring-in")
    trades = Trade.objects.bulk_create(Trade(project=made, code=f"T{n:02d}", name=f"Trade {n}") for n in range(20))
    LineItem.objects.bulk_create(
        LineItem(
            project=made, trade=trades[n % 20], code=f"L{n:05d}", description=f"Piece {n}", budget_minor=1_000_000,
            likely_minor=1_000_000, position=n,
        )
        for n in range(LINES)
    )  # fmt: skip
    return made


def sheet() -> Grid:
    head = "Vendor,Line code,Amount,Currency,Date,Valid until,Basis,Reference"
    rows = (
        f"Vendor {n % VENDORS},L{n % LINES:05d},{8_000 + n % 4_001}.{n % 100:02d},GBP,{TODAY - timedelta(n % 28)},"
        f"{TODAY + timedelta(30)},firm,Q{n:05d}"
        for n in range(QUOTES)
    )
    return reading.read("\n".join([head, *rows]).encode(), own="").grid


def measure() -> dict[str, Any]:
    call_command("migrate", verbosity=0)
    made, lead = project(), User.objects.get(username="lead")
    batch = imports.start(
        made,
        "quotes",
        sheet(),
        file_name="quotes.csv",
        sha256="0" * 64,
        about={"name": "", "others": []},
        by=lead,
        now=NOW,
    )
    began = time.perf_counter()
    count = imports.bring_in(batch, by=lead, now=NOW, today=TODAY)
    taken = time.perf_counter() - began
    assert count == Quote.objects.filter(project=made).count() == QUOTES
    lines = list(LineItem.objects.filter(project=made))
    assert ledger.unreconciled(made) == [] and ledger.drifted(made, lines, on=TODAY) == []
    return {"seconds": taken}


if __name__ == "__main__":
    print(json.dumps(measure()))
