"""Screen: what our boards demand of any machine, ready to hand to suppliers."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from catalog_schema import Case, case_fingerprint
from model.demand_records import GROUPS, Conditions, Demand, Demands
from model.demands import demands_of
from model.supplier_specification import (
    board_rows,
    condition_lines,
    fluid_rows,
    set_by,
    specification_rows,
    supplier_specification,
)
from screens import case_state, demand_rows, parts, rows, tables
from screens.demand_pictures import pressure_picture
from screens.progress import watched
from screens.shared_results import SharedResults

MOST_KEPT = 6
FEW_ROWS = 10
"""Up to so many rows a table is as high as they are."""
MINUTES = (5, 10, 20, 30, 60)
AIR_SPEEDS_M_S = (1.0, 3.0, 10.0)


def page() -> None:
    """Draw the screen."""
    parts.header("What our boards demand", "The specification that the hardest board types put on any machine, whoever "
                 "offers it. No machine of this case is looked at here.")  # fmt: skip
    case, system = case_state.current_case(), case_state.unit_system()
    if not case.board_types:
        parts.no_boards("nothing is demanded")
        return
    columns = st.columns(2)
    with columns[0]:
        minutes = parts.choose("Clean within this time of wash [min]", MINUTES, "demand-wash-minutes", default=20,
                               buttons=True)  # fmt: skip
    with columns[1]:
        speed = parts.choose(f"Drying air along the boards [{rows.unit_of('stream speed', system)}]", AIR_SPEEDS_M_S,
                             "demand-air-speed", default=3.0, buttons=True,
                             shown=lambda one: f"{rows.amount(one, 'stream speed', system):.3g}")  # fmt: skip
    try:
        demands = demands_under(case, Conditions(wash_time_s=minutes * 60.0, air_speed_m_s=speed))
    except ValueError as problem:
        st.error(f"Not worked out: {parts.plain(str(problem))}")
        return
    _first(demands, system)
    _all(demands, system)
    _boards(demands, system)


@st.cache_resource(max_entries=1, show_spinner=False)
def _kept() -> SharedResults[tuple[str, int, Conditions], Demands]:
    """Keep the last ones for all sessions."""
    return SharedResults(MOST_KEPT)


def demands_under(case: Case, conditions: Conditions) -> Demands:
    """Give the demands of the open case under some conditions; end the page when working them out was stopped.

    Raises
    ------
    ValueError
        When a quantity contradicts itself.
    """
    key = (case_fingerprint(case), case_state.draws(), conditions)
    known = _kept().get(key)
    # Fingerprints are short: what was worked out for another case counts only where that is the same throughout.
    if known is not None and known.case == case:
        return replace(known, case=case)
    with watched(f"demands {conditions.wash_time_s} {conditions.air_speed_m_s}", "steps") as watch:
        found = demands_of(case, conditions, draws=case_state.draws(), progress=watch)
    _kept().put(key, found)
    return found


def _first(demands: Demands, system: str) -> None:
    st.markdown("\n".join(f"- {line}" for line in demand_rows.headlines(demands, system)))
    st.markdown(parts.plain(demand_rows.hardest_boards(demands)))
    with st.container(horizontal=True):
        st.download_button(
            "Specification for suppliers", lambda: supplier_specification(demands, system),
            file_name="demands-on-a-machine.md", mime="text/markdown", key="specification", type="primary",
            on_click="ignore", help="A document (markdown) that asks suppliers to answer every line with a number.",
        )  # fmt: skip
        st.download_button("The same as CSV", lambda: tables.csv_of(specification_rows(demands, system)),
                           file_name="demands-on-a-machine.csv", mime="text/csv", key="specification-csv",
                           on_click="ignore")  # fmt: skip
    share = f"{demands.share:.0%}".replace("%", " %")
    parts.note(f"Every number is enough in {share} of the draws, the plant's own wish, under these conditions:")
    st.markdown("\n".join(f"- :small[{parts.plain(line)}]" for line in condition_lines(demands, system)))
    parts.caution()


def _all(demands: Demands, system: str) -> None:
    st.header("Every demand")
    groups = [group for group in GROUPS if any(one.group == group for one in demands.overall)]
    group = parts.choose("Part of the job", groups, "demand-group", buttons=True)
    with st.container(border=True, gap="small"):
        for number, demand in enumerate(one for one in demands.overall if one.group == group):
            asked, finding, basis = parts.finding_row(right=80)
            asked.markdown(f"**{parts.plain(demand_rows.asked_words(demand, system))}**")
            who = f"Set by {set_by(demands, demand)}"
            band = demand.band_text(system)
            small = parts.plain(f"{who} · need {band}" if band else who)
            finding.markdown(f"**{parts.plain(demand.title.text(system))}**  \n"
                             f"{parts.plain(demand.sentence.text(system))}  \n:small[{small}]")  # fmt: skip
            if demand.inputs and basis.button("Basis", key=f"basis-{group}-{number}",
                                              help="Every number behind this: as given, range, basis, source."):
                _show_basis(demands, demand)  # fmt: skip
    if group == "Wash":
        st.subheader("Fluids of the library")
        fluids = fluid_rows(demands, system)
        st.table(fluids.map(parts.plain), hide_index=True, border="horizontal", alt="Fluids of the library")
        tables.download(fluids, "demand-fluids")
        pressure_picture(demands, system)


def _boards(demands: Demands, system: str) -> None:
    st.header("One board type")
    names = {board.id: board.name for board in demands.case.board_types}
    board_id = parts.choose("Board type", list(names), "demand-board", shown=names.__getitem__)
    board = next(one for one in demands.boards if one.board_id == board_id)
    with st.container(key="written-demands"):
        st.table(demand_rows.demand_table(demands, board.demands, system), hide_index=True, border="horizontal",
                 alt=f"Demands of {names[board_id]}")  # fmt: skip
    frame = board_rows(demands, system)
    tables.download(frame, "demands-per-board-type")


@st.dialog("Where this demand comes from", width="large")
def _show_basis(demands: Demands, demand: Demand) -> None:
    system = case_state.unit_system()
    said = f"{demand.title.text(system)}: {demand.asked_text(system)}. {demand.sentence.text(system)}"
    st.markdown(parts.plain(said))
    read = len(demand.inputs)
    st.markdown("1 number was read for it." if read == 1 else f"{read} numbers were read for it.")
    # Only case and library are read from the first argument; demands carry both.
    tables.grid(rows.input_rows(demands, demand.inputs, system), name="basis",
                height=420 if read > FEW_ROWS else None)  # fmt: skip
    parts.caution()
