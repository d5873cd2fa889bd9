"""What the command that starts the page says."""

from __future__ import annotations

OWN = """plugread is starting on this machine only. Open
  {address}
Stop it with Ctrl+C.
"""
PHONE = """plugread is opening to the network this machine is on. On the phone, open
  {address}
The key is new at each start. Anyone on this network who has this address can see the photos and change the visit, and the
link is not encrypted: use a network you trust. Stop it with Ctrl+C.
"""


def start(address: str, *, phone: bool) -> str:
    """Return the lines told at the start."""
    return (PHONE if phone else OWN).format(address=address)
