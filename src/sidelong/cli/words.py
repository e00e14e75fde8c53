"""Small words of the terminal."""


def counted(n: int, noun: str) -> str:
    """Say how many: `1 plan`, `2 plans`."""
    return f"{n} {noun}" if n == 1 else f"{n} {noun}s"
