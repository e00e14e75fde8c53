"""Trainees by code, their referrals and courses."""
