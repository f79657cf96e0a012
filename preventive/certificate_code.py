"""The code by which anybody checks a certificate: made, in groups, read as people type it. Pure."""

import secrets

# no I, L, O, U: they are misread, and no word can appear by chance
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 12
_MISREAD = str.maketrans("ILO", "110")


def new_code() -> str:
    """Twelve characters, 60 bits: nobody finds a certificate by trying."""
    return "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))


def in_groups(code: str) -> str:
    """4F7K-9Q2M-XA31."""
    return "-".join(code[at : at + 4] for at in range(0, len(code), 4))


def as_typed(text: str) -> str:
    """The code without blanks and hyphens, misread letters put right; empty for what cannot be one."""
    code = "".join(each for each in text.upper() if each.isalnum()).translate(_MISREAD)
    return code if len(code) == LENGTH and set(code) <= set(ALPHABET) else ""
