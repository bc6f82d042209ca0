"""The address behind a host name, refused where it is public and the map does not allow that.

A name is looked up once for each connection, and the connection goes to the address that was checked.
"""

from __future__ import annotations

import asyncio
import socket

from vaporwright.files.register_map import is_private_address


class PublicAddress(Exception):
    """A name leads to a public address."""


async def checked_address(host: str, port: int, *, allow_public: bool) -> str:
    """The address to connect to.

    Raises: PublicAddress; OSError where the name is unknown.
    """
    found = await asyncio.get_running_loop().getaddrinfo(host, port, type=socket.SOCK_STREAM)
    addresses = [str(entry[4][0]).partition("%")[0] for entry in found]
    for address in addresses:
        if not allow_public and not is_private_address(address):
            raise PublicAddress(f"{host} leads to the public address {address}, which the register map does not allow")
    return addresses[0]
