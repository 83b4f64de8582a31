"""Invented demo cases; no number in here belongs to a real plant or maker."""
