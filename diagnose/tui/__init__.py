"""The screens. They know everything else; nothing else knows them."""

from __future__ import annotations

import ctypes
import sys

# --- memory: what a program for one person needs less of ---------------------------------------------------

# asyncio loads OpenSSL for servers and clients, hashlib for more speed. Both do without it where there is none; no
# screen needs it, and it takes 6 MB. Whoever wants it later has it.
_OPENSSL = ("ssl", "_hashlib")
if not any(name in sys.modules for name in (*_OPENSSL, "asyncio", "hashlib")):
    sys.modules.update(dict.fromkeys(_OPENSSL))  # type: ignore[arg-type]
    import asyncio  # noqa: F401
    import hmac  # noqa: F401

    for _name in _OPENSSL:
        del sys.modules[_name]
# Threads take turns here: one heap serves them all (M_ARENA_MAX of glibc).
if sys.platform == "linux" and hasattr(_libc := ctypes.CDLL(None), "mallopt"):
    _libc.mallopt(-8, 1)
