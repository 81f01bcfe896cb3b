"""Workflow: the tasks a person has, one function each."""
