"""`sidelong demo --files-only`: the whole job on the files of an invented clinic."""

import shutil
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from importlib.resources import files
from pathlib import Path

from sidelong.cli import application
from sidelong.cli.clock import local_today
from sidelong.exchange.doses import write_doses
from sidelong.exchange.entries import write_entries
from sidelong.exchange.estimates import read_estimates
from sidelong.exchange.events import write_events
from sidelong.exchange.files import write_text
from sidelong.exchange.plans import read_plans
from sidelong.exchange.promises import read_locks
from sidelong.exchange.protocols import read_demo_protocol, write_protocol
from sidelong.exchange.referrals import write_decisions, write_referrals
from sidelong.pathway.enrolling import simulation_rng
from sidelong.pathway.invented_doses import draw_first_doses
from sidelong.pathway.invented_referrals import draw_decisions, draw_referrals
from sidelong.pathway.invention import InventedPractice, draw_events, draw_practice
from sidelong.pathway.planning import rating_form
from sidelong.problems import Problem, Refused
from sidelong.training.estimate import Verdict

SHOWN_FIRST = (Verdict.CLEAR, Verdict.LIKELY)
MARK = "INVENTED-FILES.txt"
MARK_TEXT = """Everything in this folder is invented: clinic, staff, trainees and their nights.
The files were made by the real commands. Nothing here may be used for anybody.
`sidelong demo --files-only` makes the folder anew and throws away what was in it.
"""


def make_files(folder: Path, *, trainees: int, seed: str, today: date | None = None) -> None:
    """Run the whole job on the files of an invented clinic, and say where the results lie.

    From the signed protocol and referrals to plans, booklets, two invented weeks at home,
    estimates and reports, and to first doses laid against what was said. Each step is the real
    command, printed before it runs.

    Parameters
    ----------
    folder : Path
        Folder to write; files of an earlier demo in it are thrown away.
    trainees : int
        How many are referred.
    seed : str
        A whole number; the same number gives the same files.
    today : date, optional
        Day of the demo; today where it is not given.
    """
    day = today or local_today()
    make_empty(folder)
    clinic = InventedClinic(folder, seed, day)
    print(f"An invented clinic in {folder}; nothing in it is real.\n")
    clinic.sign_protocol()
    clinic.refer(trainees)
    clinic.plan()
    practice = clinic.practise()
    clinic.answer()
    clinic.take_doses(practice)
    print(clinic.summary())


def make_empty(folder: Path) -> None:
    """Make the demo's folder, throwing away the files of an earlier demo and nothing else.

    Parameters
    ----------
    folder : Path
        Made where it does not exist.

    Raises
    ------
    Refused
        If something lies there that is not an earlier demo.
    """
    if folder.exists() and any(folder.iterdir()):
        if not (folder / MARK).is_file():
            remedy = "Give another --folder; only files of an earlier demo are replaced."
            raise Refused([Problem(str(folder), "it is not empty", remedy, "folder")])
        shutil.rmtree(folder)
    folder.mkdir(parents=True, exist_ok=True)
    write_text(folder / MARK, MARK_TEXT)


@dataclass(frozen=True)
class InventedClinic:
    """The demo's clinic: draws what people would bring, and runs the commands on it.

    Parameters
    ----------
    folder : Path
        Where its files lie.
    seed : str
        Seed of all that is drawn.
    today : date
        Day of the follow-up visits; referrals and plans come from the weeks before.
    """

    folder: Path
    seed: str
    today: date

    @property
    def visit_day(self) -> date:
        """Day of the teaching visits: two weeks and two days before."""
        return self.today - timedelta(days=16)

    def sign_protocol(self) -> None:
        """Write the signed protocol, print it, and lay the ladder beside it."""
        write_protocol(self.folder / "protocol.toml", read_demo_protocol())
        ladder = (files("sidelong.exchange") / "demo_ladder.csv").read_text(encoding="utf-8")
        write_text(self.folder / "ladder.csv", ladder)
        self.run("protocol", "protocol.toml", "--out", "protocol.pdf")

    def refer(self, n_trainees: int) -> None:
        """Draw referrals and decisions, and sort them."""
        protocol, day = read_demo_protocol(), self.visit_day
        rng = simulation_rng(self.seed, purpose="referrals")
        referrals = draw_referrals(n_trainees, protocol=protocol, prefix="QS", today=day, rng=rng)
        decisions = draw_decisions(referrals, protocol=protocol, today=day, rng=rng)
        tables = self.folder
        write_referrals(tables / "referrals.csv", referrals, answers=tables / "answers.csv")
        write_decisions(tables / "decisions.csv", decisions)
        self.run(
            *("readiness", "referrals.csv", "--answers", "answers.csv"),
            *("--decisions", "decisions.csv", "--protocol", "protocol.toml"),
            *("--out", "readiness.csv", "--report", "decisions", "--today", day.isoformat()),
        )

    def plan(self) -> None:
        """Draw plans for those who may practise, and print their booklets."""
        self.run(
            *("plan", "--readiness", "readiness.csv", "--protocol", "protocol.toml"),
            *("--ladder", "ladder.csv", "--seed", self.seed, "--out", "plans.csv"),
            *("--today", self.visit_day.isoformat()),
        )
        self.run(
            *("booklet", "plans.csv", "--protocol", "protocol.toml", "--ladder", "ladder.csv"),
            *("--out", "booklets"),
        )

    def practise(self) -> InventedPractice:
        """Draw what the families wrote down, and what happened; gives what was true."""
        protocol = read_demo_protocol()
        plans = read_plans(self.folder / "plans.csv")
        rng = simulation_rng(self.seed, purpose="entries")
        forms = {plan.trainee: rating_form(plan, protocol) for plan in plans}
        practice = draw_practice(plans, scales=forms, rng=rng)
        entries = practice.entries
        write_entries(self.folder / "entries.csv", entries)
        write_events(self.folder / "events.csv", draw_events(entries, rng=rng))
        print(f"{len(entries)} invented nights in entries.csv, what happened in events.csv.\n")
        return practice

    def answer(self) -> None:
        """Estimate and report, and lock what is said before the first doses."""
        self.run(
            *("estimate", "entries.csv", "--plans", "plans.csv", "--events", "events.csv"),
            *("--ladder", "ladder.csv", "--lock", "locked.csv"),
            *("--protocol", "protocol.toml", "--out", "estimates.csv", "--report", "reports"),
            *("--today", self.today.isoformat()),
        )

    def take_doses(self, practice: InventedPractice) -> None:
        """Draw first doses three days after the lock, and lay them against what was said."""
        day = max(self.today, local_today()) + timedelta(days=3)
        doses = draw_first_doses(
            read_locks(self.folder / "locked.csv"),
            plans=read_plans(self.folder / "plans.csv"),
            practice=practice,
            given_on=day,
            rng=simulation_rng(self.seed, purpose="doses"),
        )
        write_doses(self.folder / "doses.csv", doses)
        state = "what they show is no clinical accuracy"
        print(f"{len(doses)} invented first doses in doses.csv: {state}.\n")
        self.run(
            *("promises", "locked.csv", "--doses", "doses.csv", "--protocol", "protocol.toml"),
            *("--out", "calibration.csv", "--report", "promises.pdf", "--today", day.isoformat()),
        )

    def run(self, command: str, *words: str) -> None:
        """Run a command on files of this folder, as a person in the folder would."""
        print(f"$ sidelong {command} {' '.join(words)}")
        application.make_app(command)(
            [command, *self._placed(words)], exit_on_error=False, result_action="return_value"
        )
        print()

    def _placed(self, words: Sequence[str]) -> list[str]:
        """Put file and folder names into the clinic's folder."""
        names = (".csv", ".toml", ".pdf")
        folders = {"booklets", "decisions", "reports"}
        return [
            str(self.folder / word) if word.endswith(names) or word in folders else word
            for word in words
        ]

    def summary(self) -> str:
        """Say where everything lies and what the verdicts were, from the files."""
        answers = read_estimates(self.folder / "estimates.csv")
        verdicts = Counter(answer.verdict.value for answer in answers)
        told = ", ".join(f"{n} {word}" for word, n in verdicts.most_common())
        # Most is to be seen on the pages of somebody with every position and a position ahead.
        first = max(
            answers, key=lambda each: (len(each.positions), each.verdict in SHOWN_FIRST)
        ).trainee
        return "\n".join(
            (
                f"Verdicts of {len(answers)} invented trainees: {told}.",
                "",
                "Look at:",
                f"  {self.folder / 'protocol.pdf'}   the site's rules, as signed",
                f"  {self.folder / 'booklets' / f'{first}.pdf'}   what a family takes home",
                f"  {self.folder / 'reports' / f'{first}.pdf'}   the answer, to be signed",
                f"  {self.folder / 'estimates.csv'}   the same figures as a table",
                f"  {self.folder / 'promises.pdf'}   what was said, against the first doses",
            )
        )
