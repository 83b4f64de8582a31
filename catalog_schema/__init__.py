"""Typed, validated shapes of every Washcase document."""

from catalog_schema.case import Case, Library
from catalog_schema.errors import CaseError, Problem
from catalog_schema.files import case_fingerprint, case_text, check_case, load_case, parse_case, save_case
from catalog_schema.library import library_for, load_library
from catalog_schema.machine import Machine, machines_of

__all__ = [
    "Case",
    "CaseError",
    "Library",
    "Machine",
    "Problem",
    "case_fingerprint",
    "case_text",
    "check_case",
    "library_for",
    "load_case",
    "load_library",
    "machines_of",
    "parse_case",
    "save_case",
]
