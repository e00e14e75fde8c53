"""Keys under which the audit trail names whom an act was about."""


def subject_of(code: str) -> str:
    """Key of a trainee, for example ``"trainee:HL-7K3PX"``."""
    return f"trainee:{code}"
