"""Identities: short, unique, stable for the life of a site."""

from __future__ import annotations

import secrets

ALPHABET = "23456789abcdefghjkmnpqrstuvwxyz"
LENGTH = 12


def new_id() -> str:
    """Return a fresh identity of twelve unmistakable letters and digits (59 bits)."""
    return "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))
