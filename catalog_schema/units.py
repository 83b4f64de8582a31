"""Units at the border: text becomes a number with a unit, and SI becomes what the user reads."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import pint
from babel.numbers import list_currencies

from catalog_schema.errors import nearest_name_hint

REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True, cache_folder=None)
REGISTRY.define("money = [money]")
REGISTRY.define("board = [] = boards")
REGISTRY.define("gpm = gallon / minute")
REGISTRY.define("cfm = foot ** 3 / minute")

_CURRENCIES = frozenset(list_currencies())
_UNIT_TEXT = re.compile(r"[A-Za-zµμΩΩ°%/*^().\-0-9 _²³]{0,40}")
_LONG_DIGITS = re.compile(r"\d{3,}")
_WORD = re.compile(r"[A-Za-z]+")
_TRADE_WORDS = {"mil": "thou"}
"""Words that the registry reads otherwise: its mil is an angle."""
_POWER_WORD = re.compile(r"\b(?:squared?|cubed|cubic|sq)\b")
_PLAIN_POWER = re.compile(
    r"(?:[A-Za-zµΩ_]+|\([A-Za-zµΩ_ */]+\))\s*\*\*\s*"
    r"(?:[-+]?\d(?:\.\d{1,2})?|\([-+]?\d(?:\.\d{1,2})?\))(?![\d.]|\s*\*\*)"
)
_SPELLINGS = (
    ("°C", "degC"), ("°F", "degF"), ("%", " percent "), ("Ω", "ohm"), ("Ω", "ohm"), ("μ", "µ"),
    ("²", "**2"), ("³", "**3"), ("^", "**"),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """How one kind of quantity is stored and shown."""

    name: str
    """Trade word of the dimension."""
    si_unit: str
    """Unit used inside the model."""
    metric_unit: str
    """Unit shown to users of the metric system."""
    us_unit: str
    """Unit shown to users of US units."""
    example: str
    """A valid text, used in error messages."""


def _dimension(name: str, si: str, metric: str, us: str, example: str) -> tuple[str, Dimension]:
    return name, Dimension(name=name, si_unit=si, metric_unit=metric, us_unit=us, example=example)


DIMENSIONS: dict[str, Dimension] = dict(
    [
        _dimension("length", "m", "mm", "in", "120 mm"),
        _dimension("gap", "m", "µm", "mil", "50 µm"),
        _dimension("area", "m**2", "m**2", "ft**2", "2.5 m^2"),
        _dimension("volume", "m**3", "L", "gal", "40 L"),
        _dimension("mass", "kg", "kg", "lb", "3 kg"),
        _dimension("time", "s", "min", "min", "10 min"),
        _dimension("long time", "s", "h", "h", "500 h"),
        _dimension("years", "s", "year", "year", "10 year"),
        _dimension("temperature", "K", "degC", "degF", "60 degC"),
        _dimension("temperature difference", "K", "K", "delta_degF", "10 K"),
        _dimension("pressure", "Pa", "bar", "psi", "3.5 bar"),
        _dimension("low pressure", "Pa", "kPa", "psi", "2 kPa"),
        _dimension("flow", "m**3/s", "L/min", "gpm", "120 L/min"),
        _dimension("air flow", "m**3/s", "m**3/h", "cfm", "400 m^3/h"),
        _dimension("speed", "m/s", "m/min", "ft/min", "0.6 m/min"),
        _dimension("stream speed", "m/s", "m/s", "ft/s", "0.2 m/s"),
        _dimension("angle", "rad", "deg", "deg", "30 deg"),
        _dimension("rotation", "rad/s", "rpm", "rpm", "40 rpm"),
        _dimension("frequency", "Hz", "kHz", "kHz", "40 kHz"),
        _dimension("power", "W", "kW", "kW", "5 kW"),
        _dimension("power per volume", "W/m**3", "W/L", "W/gal", "10 W/L"),
        _dimension("energy per volume", "J/m**3", "kWh/m**3", "kWh/m**3", "2 kWh/m^3"),
        _dimension("density", "kg/m**3", "kg/m**3", "lb/ft**3", "998 kg/m^3"),
        _dimension("mass concentration", "kg/m**3", "g/L", "g/L", "80 g/L"),
        _dimension("mass per area", "kg/m**2", "µg/cm**2", "µg/in**2", "1.0 µg/cm^2"),
        _dimension("volume per area", "m", "mL/m**2", "floz/ft**2", "80 mL/m^2"),
        _dimension("viscosity", "Pa*s", "mPa*s", "cP", "0.9 mPa*s"),
        _dimension("diffusivity", "m**2/s", "m**2/s", "m**2/s", "5e-10 m^2/s"),
        _dimension("surface tension", "N/m", "mN/m", "dyn/cm", "30 mN/m"),
        _dimension("energy per mass", "J/kg", "kJ/kg", "BTU/lb", "2260 kJ/kg"),
        _dimension("specific heat", "J/kg/K", "kJ/(kg*K)", "BTU/(lb*delta_degF)", "0.95 kJ/(kg*K)"),
        _dimension("heat transfer coefficient", "W/m**2/K", "W/(m**2*K)", "BTU/(h*ft**2*delta_degF)", "5 W/(m^2*K)"),
        _dimension("molar mass", "kg/mol", "g/mol", "g/mol", "60 g/mol"),
        _dimension("resistance", "ohm", "ohm", "ohm", "1e6 ohm"),
        _dimension("resistivity", "ohm*m", "Mohm*cm", "Mohm*cm", "2 Mohm*cm"),
        _dimension("conductivity", "S/m", "µS/cm", "µS/cm", "5 µS/cm"),
        _dimension("capacitance", "F", "pF", "pF", "20 pF"),
        _dimension("voltage", "V", "V", "V", "100 V"),
        _dimension("solubility parameter", "Pa**0.5", "MPa**0.5", "MPa**0.5", "16.0 MPa^0.5"),
        _dimension("charge per volume", "mol/m**3", "mol/L", "mol/L", "0.5 mol/L"),
        _dimension("rate", "1/s", "1/year", "1/year", "12000 boards/year"),
        _dimension("per kelvin", "1/K", "1/K", "1/delta_degF", "0.02 1/K"),
        _dimension("per time", "1/s", "1/h", "1/h", "0.01 1/h"),
        _dimension("share", "", "percent", "percent", "80 %"),
        _dimension("number", "", "", "", "12"),
        _dimension("money", "money", "money", "money", "12000 EUR"),
        _dimension("money per year", "money/s", "money/year", "money/year", "2500 EUR/year"),
        _dimension("money per hour", "money/s", "money/h", "money/h", "38 EUR/h"),
        _dimension("money per volume", "money/m**3", "money/L", "money/gal", "9 EUR/L"),
        _dimension("money per energy", "money/J", "money/kWh", "money/kWh", "0.2 EUR/kWh"),
        _dimension("money per area and year", "money/m**2/s", "money/m**2/year", "money/ft**2/year",
                   "120 EUR/(m^2*year)"),
    ]
)  # fmt: skip


def _pint_text(unit: str) -> str:
    """Rewrite trade spellings and ISO currency codes into what the registry knows."""
    text = unit
    for spelling, plain in _SPELLINGS:
        text = text.replace(spelling, plain)
    return _WORD.sub(
        lambda match: "money" if match.group() in _CURRENCIES else _TRADE_WORDS.get(match.group(), match.group()), text
    ).strip()


def currency_in(unit: str) -> str | None:
    """Name the ISO currency code inside a unit text, or None.

    >>> currency_in("EUR/kWh")
    'EUR'
    """
    for word in _WORD.findall(unit):
        if word in _CURRENCIES:
            return str(word)
    return None


@lru_cache(maxsize=4096)
def parse_unit(unit: str) -> pint.Unit:
    """Turn unit text into a pint unit; raise ValueError with a sentence when it is not one."""
    if not _UNIT_TEXT.fullmatch(unit) or _LONG_DIGITS.search(unit.replace("1000", "")):
        raise ValueError(f"{unit[:60]!r} is not a unit. Use letters, * / ^ and small powers, such as L/min.")
    text = _pint_text(unit)
    # A tower such as m**9**9**9 would be computed as a whole number until memory ends.
    if _POWER_WORD.search(text) or text.count("**") != len(_PLAIN_POWER.findall(text)):
        raise ValueError(f"{unit!r} is not a unit. Raise a unit once, to one small number, such as m^3.")
    try:
        return REGISTRY.parse_units(text) if text else REGISTRY.Unit("")
    except pint.UndefinedUnitError as problem:
        names = problem.unit_names
        name = names if isinstance(names, str) else str(next(iter(names), unit))
        known = [
            "mm",
            "µm",
            "m",
            "bar",
            "psi",
            "kPa",
            "gpm",
            "degC",
            "degF",
            "min",
            "kWh",
            "percent",
            "mil",
            "in",
        ]
        known += [name.upper()] if name.upper() in _CURRENCIES else []
        hint = nearest_name_hint(name.upper() if name.upper() in _CURRENCIES else name, known)
        raise ValueError(f"{name!r} is not a unit known here. {hint}") from None
    except Exception:
        # pint raises many kinds for malformed unit text; all mean the same to the user.
        raise ValueError(f"{unit!r} is not a unit. Write it like L/min, kg/m^3 or degC.") from None


@lru_cache(maxsize=65536)
def convert(value: float, unit: str, to_unit: str) -> float:
    """Convert one value between unit texts; raise ValueError when the dimensions differ.

    >>> round(convert(40, "psi", "bar"), 4)
    2.7579
    """
    source, target = parse_unit(unit), parse_unit(to_unit)
    if source.dimensionality != target.dimensionality:
        raise ValueError(f"{unit or 'a bare number'} cannot be given in {to_unit or 'a bare number'}.")
    return float(REGISTRY.Quantity(value, source).to(target).magnitude)


def readable_unit(unit: str, currency: str = "") -> str:
    """Write a unit text as people read it: m³, µg/cm², °C, the currency's own code.

    >>> readable_unit("m**3/h")
    'm³/h'
    """
    text = unit.replace("money", currency or "money")
    for plain, shown in (
        ("**0.5", "^½"), ("**2", "²"), ("**3", "³"), ("**6", "⁶"), ("**", "^"), ("delta_deg", "deg"), ("degC", "°C"),
        ("degF", "°F"), ("percent", "%"), ("*", "·"), ("ohm", "Ω"), (" ", ""),
    ):  # fmt: skip
        text = text.replace(plain, shown)
    return text


_SUPERSCRIPTS = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def number_text(value: float, digits: int = 3) -> str:
    """Write a number with so many significant digits, powers of ten as people write them.

    >>> number_text(12345.6), number_text(0.000012345), number_text(0.5)
    ('12 346', '1.23·10⁻⁵', '0.5')
    """
    if value != value:
        return "not defined"
    if value in (float("inf"), float("-inf")):
        return "∞" if value > 0 else "−∞"
    magnitude = abs(value)
    if magnitude >= 1000 and magnitude < 1e7:
        return f"{value:,.0f}".replace(",", " ")
    if magnitude >= 1e7 or (0 < magnitude < 1e-3):
        mantissa, _, exponent = f"{value:.{digits - 1}e}".partition("e")
        power = f"10{str(int(exponent)).translate(_SUPERSCRIPTS)}"
        return power if float(mantissa) == 1 else f"{float(mantissa):g}·{power}"
    return f"{float(f'{value:.{digits}g}'):g}"


_TIME_STEPS = ((0.0, "s"), (90.0, "min"), (3 * 3600.0, "h"), (3 * 86400.0, "d"))
"""From which seconds on a process time is better read in which unit."""
_FEW_PASCALS = 100.0
"""Below it a low pressure reads better in Pa than in kPa."""


def show(value_si: float, dimension: str, system: str = "metric", currency: str = "", digits: int = 3) -> str:
    """Write an SI value in the user's unit system ("metric" or "US"); times and low pressures in what reads best.

    >>> show(350000.0, "pressure"), show(20.0, "time"), show(36000.0, "time"), show(2.5, "low pressure")
    ('3.5 bar', '20 s', '10 h', '2.5 Pa')
    """
    shape = DIMENSIONS[dimension]
    unit = shape.metric_unit if system == "metric" else shape.us_unit
    if dimension == "time" and value_si == float("inf"):
        return "no end"
    if dimension == "time" and value_si > 0:
        unit = next(name for least, name in reversed(_TIME_STEPS) if value_si >= least)
    if unit == "kPa" and 0.0 < abs(value_si) < _FEW_PASCALS:
        unit = "Pa"
    amount = number_text(convert(float(value_si), shape.si_unit, unit), digits)
    shown = readable_unit(unit, currency)
    return f"{amount} {shown}".strip()


def show_span(
    low_si: float, likely_si: float, high_si: float, dimension: str, system: str = "metric", currency: str = ""
) -> str:
    """Write a likely value with its range behind it, the unit once where all share it.

    >>> show_span(2e5, 3e5, 5e5, "pressure"), show_span(600.0, 1800.0, 18000.0, "time")
    ('3 bar (2 to 5)', '30 min (10 min to 5 h)')
    """
    middle = show(likely_si, dimension, system, currency)
    if low_si == high_si:
        return middle
    ends = [show(end, dimension, system, currency) for end in (low_si, high_si)]
    unit = f" {middle.rpartition(' ')[2]}"
    # Each end keeps its unit unless all share one: times are shown in the unit that reads best for each.
    if DIMENSIONS[dimension].metric_unit and all(end.endswith(unit) for end in ends):
        ends = [end.removesuffix(unit) for end in ends]
    return f"{middle} ({' to '.join(ends)})"
