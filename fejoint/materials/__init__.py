"""Metals: the library, hardening laws, hardness and what it says of strength."""
