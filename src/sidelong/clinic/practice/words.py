"""Words on screen for what is recorded and decided in practice."""

from sidelong.clinic.practice.actions import ClinicianAnswer, Decision
from sidelong.training.safety import Tier

TIER_WORDS = {
    Tier.PAUSE: "a brief cough that cleared",
    Tier.STOP_TONIGHT: "lasting cough, vomiting, pain or distress",
    Tier.ACT_FIRST: "choking, trouble breathing, or a piece that felt stuck",
}
ANSWER_WORDS = {
    ClinicianAnswer.MAY_GO_ON: "Practice may go on",
    ClinicianAnswer.STAYS_STOPPED: "Practice stays stopped",
}
DECISION_WORDS = {
    Decision.SAME_PLAN: "Practise on, same plan",
    Decision.NEW_PLAN: "Practise on, new plan",
    Decision.MEDICINE_STEP: "Medicine step, with the pharmacist",
    Decision.CLINICIAN_FIRST: "See a clinician first",
    Decision.SOMETHING_ELSE: "Something else",
}
