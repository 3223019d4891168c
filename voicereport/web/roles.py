"""Who may do what: one table, which the pages, the API and the tests read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, Literal

Role = Literal["technician", "office", "supervisor", "administrator"]
Right = Literal[
    "own_work",  # the technician's live page
    "see_own_jobs",  # jobs whose technician one is
    "see_jobs",  # every job
    "bring_in",  # upload recordings and transcripts
    "edit",  # entries and words of a report
    "issue",  # the customer's report: issue, withdraw, reissue
    "company",  # letterhead, wording, limits
    "appliances",  # data plates
    "oversee",  # across jobs
    "decide",  # accept, send back, override
    "people",  # administer people
    "trail",  # read and verify the audit trail
    "myself",  # own password and tokens
]

ROLES: Final[tuple[Role, ...]] = ("technician", "office", "supervisor", "administrator")

RIGHTS: Final[Mapping[Role, frozenset[Right]]] = {
    "technician": frozenset({"own_work", "see_own_jobs", "bring_in", "myself"}),
    "office": frozenset({"see_jobs", "bring_in", "edit", "issue", "company", "appliances", "myself"}),
    "supervisor": frozenset({"see_jobs", "bring_in", "edit", "appliances", "oversee", "decide", "trail", "myself"}),
    "administrator": frozenset(
        {"see_jobs", "bring_in", "edit", "issue", "company", "appliances", "oversee", "decide", "people", "trail",
         "myself"}
    ),
}  # fmt: skip


def may(role: str, right: Right) -> bool:
    """True where people of `role` have `right`; an unknown role has none."""
    return any(right in rights for name, rights in RIGHTS.items() if name == role)
