"""What was signed stays: its figures are kept before anything is loaded that could move them."""

from __future__ import annotations

from .model import Entries
from .template import Template

KEPT = (("signed_today", "signed_figure"), ("draws_today", "draws_figure"),
        ("rates_today", "rates_figure"))  # fmt: skip
"""Of ``[keys]``: what is worked out, and the entry that keeps it once a contract stands."""


def keep(template: Template, entries: Entries) -> str:
    """Put the figures of a contract that stands into their entries, where nobody typed them.

    Return what is to be said of it: nothing where no contract stands, or none is priced.
    """
    book = template.book
    keys = book.keys
    if "contract_stands" not in keys:
        return ""
    asked = ["contract_stands", "contract_kept", "contract", *(key for two in KEPT for key in two)]
    now = template.results(entries, frozenset(keys[key] for key in asked))
    price = float(now[keys["contract"]][0] or 0)
    if not now[keys["contract_stands"]][0] or price <= 0:
        return ""
    if now[keys["contract_kept"]][0]:
        return book.words["contract_stays"].format(price=f"{price:,.2f}")
    for today, figure in KEPT:
        for line, amount in enumerate(now[keys[today]]):
            if amount and entries[keys[figure]][line] is None:
                entries[keys[figure]][line] = amount
    return book.words["contract_typed"].format(price=f"{price:,.2f}")
