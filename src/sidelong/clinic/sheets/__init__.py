"""Photographed sheets: received, read, looked at by a person, and kept as nights."""
