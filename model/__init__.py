"""Pure computations of Washcase: SI inside, no Streamlit, no files."""
