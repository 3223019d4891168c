"""What the store refuses, and why."""

from __future__ import annotations

from typing import Literal

from voicereport.errors import VoiceReportError

FaultKind = Literal["not_found", "conflict", "refused", "damaged"]


class StoreError(VoiceReportError):
    """Something that the store cannot or will not do.

    kind: "not_found"; "conflict" where the record is in another state or at another version than was taken for
    granted; "refused" for a value that cannot be stored; "damaged" where the store is not as it was left.
    """

    def __init__(self, place: str, problem: str, remedy: str | None = None, *, kind: FaultKind) -> None:
        super().__init__(place, problem, remedy)
        self.kind = kind


def not_found(place: str) -> StoreError:
    """The error for something that is not there."""
    return StoreError(place, "is not in the store", "check its number or name", kind="not_found")


def conflict(place: str, problem: str, remedy: str | None = None) -> StoreError:
    """The error for a record that somebody else has moved on."""
    return StoreError(place, problem, remedy, kind="conflict")


def refused(place: str, problem: str, remedy: str | None = None) -> StoreError:
    """The error for a value that cannot be stored."""
    return StoreError(place, problem, remedy, kind="refused")


def damaged(place: str, problem: str, remedy: str | None = None) -> StoreError:
    """The error for a store that is not as it was left."""
    return StoreError(place, problem, remedy, kind="damaged")
