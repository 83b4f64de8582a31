"""What is run by hand needs packages that the tests do not install."""

collect_ignore = ["mutants.py", "mutation_run.py"]
