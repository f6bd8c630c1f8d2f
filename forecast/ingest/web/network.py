"""What the owner says about the network, and how long and how much a download may take."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Limits:
    """How long and how much; all of them house choices, for a page that is made while somebody waits.

    Attributes:
        connect_s: to look a name up, and again to reach one address; a server at the far end of the world takes 0.3 s.
        silence_s: the longest wait for the next bytes; a busy weather service may work for several seconds.
        whole_s: one download with all its tries and waits; more than a person in front of a page bears.
        tries: how often in all; a fault that outlives three tries is none of the moment.
        wait_s: before the second try, doubled after; up to half of ``wait_s`` is added, by address and contact.
        most_bytes: of a file, as sent and as unpacked; a station-year of hours is below 1 MB.
        least_minutes_between: a copy younger than this is used unasked; hourly weather does not change faster.
    """

    connect_s: float = 5.0
    silence_s: float = 15.0
    whole_s: float = 60.0
    tries: int = 3
    wait_s: float = 1.0
    most_bytes: int = 50_000_000
    least_minutes_between: int = 30


@dataclass(frozen=True, slots=True)
class Network:
    """What the owner says about the network.

    Attributes:
        contact: an e-mail or web address that a weather service can turn to; empty for none.
        allow_hosts: hosts (``name`` or ``name:port``, as in the address) that may lie in a private network.
        offline: True to ask nobody.
        limits: how long and how much.
    """

    contact: str = ""
    allow_hosts: tuple[str, ...] = ()
    offline: bool = False
    limits: Limits = Limits()


def age_words(fetched: datetime, now: datetime) -> str:
    """How old a copy is: hours for two days, then days."""
    hours = (now - fetched).total_seconds() / 3600
    return f"{hours:.0f} h" if hours < 48 else f"{hours / 24:.0f} days"
