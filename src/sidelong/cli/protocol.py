"""`sidelong protocol`: the site's rules as one document, checked, printed, or begun."""

from pathlib import Path

from sidelong.cli.clock import local_today
from sidelong.exchange.files import write_bytes, write_text
from sidelong.exchange.protocols import (
    default_protocol_text,
    protocol_fingerprint,
    read_protocol,
)
from sidelong.paper.language import read_language
from sidelong.paper.protocol_print import print_protocol
from sidelong.paper.sheet import Paper
from sidelong.problems import Problem, Refused


def protocol(
    file: Path,
    *,
    new: bool = False,
    out: Path | None = None,
    paper: Paper = Paper.A4,
    language: str = "en",
) -> None:
    """Check a site's protocol, and print it for review and signature.

    Every gate, age, position, text and rule is in this one document. Signatures carry the
    fingerprint of the text: what was changed after signing is refused until it is signed again.
    A site may make a safety rule stricter, never looser.

    For example:

        sidelong protocol our-protocol.toml --new     (write the draft to start from)

        sidelong protocol our-protocol.toml --out our-protocol.pdf

    Parameters
    ----------
    file
        The protocol, TOML.
    new
        Write the draft that ships with the program to this file, and stop.
    out
        PDF to write, with places to sign.
    paper
        a4 or letter.
    language
        Language of the page's own words.
    """
    if new:
        if file.exists():
            remedy = "Give a new name; nothing is overwritten."
            raise Refused([Problem(str(file), "there is such a file already", remedy, "file")])
        write_text(file, default_protocol_text())
        print(f"A draft is in {file}: complete it, have it reviewed, then sign it.")
        return
    print(f"Fingerprint of the text, for signatures: {protocol_fingerprint(file)}")
    rules = read_protocol(file)
    signed = ", ".join(f"{each.meaning} ({each.role})" for each in rules.signatures)
    print(f"Version {rules.version}, {len(rules.gates)} gates. Signed: {signed or 'nothing yet'}.")
    if out is not None:
        printed = print_protocol(
            rules, language=read_language(language), today=local_today(), paper=paper.value
        )
        write_bytes(out, printed)
        print(f"Printed in {out}.")
