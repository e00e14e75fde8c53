"""The audit trail: who did what and when, as a chain that shows when it was tampered with."""
