"""Screen: the offers and the machine classes, what each states and what stands in where it is silent."""

from __future__ import annotations

import streamlit as st

from catalog_schema.library import library_for
from catalog_schema.machine import machines_of
from model.range_charts import ranges_chart
from screens import case_state, machine_rows, parts, rows, tables


def page() -> None:
    """Draw the screen."""
    parts.header("Machines", "Offers on the table and generic classes without a maker. Where an offer is silent, the "
                 "range of its class stands in, and the answer is less certain for it.")  # fmt: skip
    case, system = case_state.current_case(), case_state.unit_system()
    library = library_for(case)
    machines = machines_of(case, library)
    classes = {record.id: record for record in library.machine_classes}
    key = f"compare-{case_state.revision()}"
    compared = [machine.id for machine in machines if not machine.is_candidate]
    with st.expander(f"Classes compared with: {len(compared)} of {len(classes)}"):
        st.multiselect("Machine classes", list(classes), default=compared, format_func=lambda one: classes[one].name,
                       key=key, on_change=case_state.change_from_widget, args=("compare_classes", key))  # fmt: skip
    if not machines:
        st.warning("This case has no offers and compares with no class. Choose classes above.")
        return
    listed = machine_rows.machine_list(machines, classes)
    st.table(listed.map(parts.plain), hide_index=True, border="horizontal", alt="Machines")
    tables.download(listed, "machines")

    st.header("One machine")
    by_id = {machine.id: machine for machine in machines}
    machine = by_id[parts.choose("Machine", list(by_id), "machine", shown=lambda one: by_id[one].name)]
    own_class = classes[machine.class_id]
    st.markdown(parts.plain(own_class.summary))
    if machine.note:
        st.markdown(parts.plain(machine.note))
    if machine.is_candidate:
        stated, silent = machine_rows.statements(machine, own_class)
        st.markdown(f"The offer states **{stated}** of {stated + silent} values; **{silent}** are not stated and fall "
                    f"back to the range of the class *{parts.plain(own_class.name)}*.")  # fmt: skip
    tables.grid(machine_rows.machine_rows(machine, own_class, system), name="machine", height=420)
    parts.caution()

    st.header("One number across machines")
    paths = machine_rows.numeric_paths(machines, classes)
    path = parts.choose("Number", paths, "number", shown=rows.words,
                        default="wash.max_time" if "wash.max_time" in paths else paths[0])  # fmt: skip
    frame = machine_rows.across_machines(machines, path, system)
    panel = str(frame["panel"].iloc[0])
    said = int((frame["mark"] == "stated").sum())
    sentence = f"{panel}: {len(frame)} machines have it, {said} as stated in an offer, the others as a class's range."
    tables.picture(
        sentence, lambda sheet: [ranges_chart(frame, sheet, panels=(panel,))],
        frame.drop(columns="panel").rename(columns={"name": "Machine", "mark": "From"}), name="number",
        alt=f"{panel} of every machine",
    )  # fmt: skip
