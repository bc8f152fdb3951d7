"""The checklist and the converters over HTTP, for another system: ``woundfhir serve``. Needs the extra ``server``.

``app.py`` takes requests; ``workers.py`` hands each to a process of its own pool, which can be stopped when it takes
too long; ``jobs.py`` and ``hooks.py`` run there and call what the command line calls.
"""
