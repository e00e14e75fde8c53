"""`sidelong readiness`: who is ready for a clinician's decision, and what stands in the way."""

from collections import Counter
from pathlib import Path

from sidelong.cli.arguments import Day
from sidelong.cli.clock import local_today
from sidelong.cli.folders import prepare_folder
from sidelong.cli.progress import track
from sidelong.cli.words import counted
from sidelong.exchange.files import check_apart, check_place, write_bytes
from sidelong.exchange.protocols import read_protocol
from sidelong.exchange.readiness import write_readiness, write_reasons
from sidelong.exchange.referrals import read_decisions, read_referrals
from sidelong.paper.language import read_language
from sidelong.paper.readiness_print import print_readiness
from sidelong.paper.sheet import Paper
from sidelong.pathway.readiness import sort_readiness
from sidelong.training.readiness import Readiness


def readiness(
    referrals: Path,
    *,
    protocol: Path,
    answers: Path | None = None,
    decisions: Path | None = None,
    out: Path = Path("readiness.csv"),
    report: Path | None = None,
    paper: Paper = Paper.A4,
    language: str = "en",
    today: Day | None = None,
) -> None:
    """Sort referrals: ready for a clinician's decision, clinician first, or not now.

    Every gate of the protocol that is answered with yes, or not answered, gives its reason and
    its effect: not now, a clinician decides, positions removed, ingredients limited, or the plan
    changed. "Don't know" counts as yes. Nobody is cleared here: a plan needs a named clinician's
    decision, and that decision ends.

    For example:

    sidelong readiness referrals.csv --answers answers.csv --protocol protocol.toml

    Parameters
    ----------
    referrals
        Table of referrals, one row each; codes, never names or birth dates.
    protocol
        The site's protocol.
    answers
        Table of answers: trainee, gate, and yes, no or unknown.
    decisions
        Table of clinicians' decisions, with who, when, why and until when.
    out
        Table to write; every reason goes to OUT.reasons.csv beside it.
    report
        Folder to write: exactly one TRAINEE.pdf for each referral, for the clinician who decides.
    paper
        Of these pages: a4 or letter.
    language
        Of these pages.
    today
        Day of sorting; today where it is not given.
    """
    beside = out.with_suffix(".reasons.csv")
    check_apart(
        read={
            "the referrals": referrals,
            "--protocol": protocol,
            "--answers": answers,
            "--decisions": decisions,
        },
        written={"--out": out, "the reasons beside it": beside},
    )
    chosen = read_language(language)
    rules = read_protocol(protocol)
    referred = read_referrals(referrals, answers=answers, protocol=rules)
    known = [each.trainee for each in referred]
    decided = read_decisions(decisions, protocol=rules, trainees=known) if decisions else ()
    day = today or local_today()
    sorted_referrals = [
        sort_readiness(each, rules, today=day, decisions=decided) for each in referred
    ]
    check_place(out)
    if report is not None:
        prepare_folder(report, names=(f"{each.trainee}.pdf" for each in sorted_referrals))
    write_reasons(beside, sorted_referrals)
    write_readiness(out, sorted_referrals)
    if report is not None:
        for each in track(sorted_referrals, doing="Setting pages", total=len(sorted_referrals)):
            printed = print_readiness(each, protocol=rules, language=chosen, paper=paper.value)
            write_bytes(report / f"{each.trainee}.pdf", printed)
    counts = Counter(each.readiness for each in sorted_referrals)
    told = ", ".join(f"{counts[state]} {state.value}" for state in Readiness)
    print(f"{counted(len(sorted_referrals), 'referral')} in {out}: {told}.")
    n_decided = sum(each.may_plan for each in sorted_referrals)
    print(
        f"For {n_decided} of them a named clinician's decision holds; reasons in the table beside."
    )
