"""ESD classes, decay and scope against the standards named in each check."""

from __future__ import annotations

import pytest

from model.esd import decay_time_s, in_standard_scope, relaxation_time_s, resistance_class


# P: ANSI/ESD STM11.11: conductive < 1e4, dissipative 1e4 to < 1e11, insulative from 1e11 Ω. No tolerance: limits.
@pytest.mark.parametrize(
    ("resistance_ohm", "expected"),
    [(0.0, "conductive"), (9.999e3, "conductive"), (1e4, "dissipative"), (9.99e10, "dissipative"),
     (1e11, "insulative"), (1e14, "insulative")],
)  # fmt: skip
def test_resistance_classes(resistance_ohm: float, expected: str) -> None:
    assert resistance_class(resistance_ohm) == expected


# N: t = R C ln 10 = 4.605 s for 1e11 Ω and 20 pF from 1000 to 100 V; 1e-3 for the printed digits.
def test_decay_of_a_charged_plate_to_a_tenth() -> None:
    assert decay_time_s(1e11, 20e-12, 1000.0, 100.0) == pytest.approx(4.605, rel=1e-3)


# P: NFPA 77 table: 50 pS/m at relative permittivity 2 relaxes in 0.354 s; 1e-3 for the printed digits.
def test_relaxation_time_of_a_poorly_conducting_liquid() -> None:
    assert relaxation_time_s(2.0, 50e-12) == pytest.approx(0.354, rel=1e-3)


# P: ANSI/ESD S20.20-2021: from 100 V human body and 200 V charged device on; isolated conductors below 35 V.
@pytest.mark.parametrize(
    ("known", "inside"),
    [({"human_body_V": 100.0}, True), ({"human_body_V": 99.0}, False), ({"charged_device_V": 200.0}, True),
     ({"charged_device_V": 199.0}, False), ({"isolated_conductor_V": 34.9}, True),
     ({"isolated_conductor_V": 35.0}, False), ({"human_body_V": 500.0, "charged_device_V": 100.0}, False), ({}, True)],
)  # fmt: skip
def test_scope_of_the_standard(known: dict[str, float], inside: bool) -> None:
    assert in_standard_scope(**known) is inside
