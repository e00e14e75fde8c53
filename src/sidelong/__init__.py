"""Sidelong: plan, print, record and answer two weeks of practice in swallowing tablets."""

from importlib.metadata import version

__version__ = version("sidelong")
