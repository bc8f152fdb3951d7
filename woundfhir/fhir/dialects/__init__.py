"""Dialects: how our resources are written for the shapes that other receivers read.

Each is data, one file in ``data/``; ``model.py`` says what such a file may hold, ``spoken.py`` writes by it. What is
written in a dialect is read by the same readers to the same record: a view of ours says nothing of its own, and the
rest is held against what we write in that dialect (``fhir/keeping.py``).
"""
