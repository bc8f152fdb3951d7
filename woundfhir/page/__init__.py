"""The nurse's page: a visit charted on a machine of one's own. Needs the extra ``page``.

``folder.py`` holds the records of a folder, ``draft.py`` what is being written, ``answers.py`` the names of a form's
fields and the answers of a record, both ways; ``bedside.py`` the order of work; ``visit.py``, ``missing.py`` and
``listing.py`` what a screen shows; ``screens/`` answers requests. Nothing here decides what is asked, what an answer is
called or what is missing: the catalogue and the checklist do. Every word of the page stands in ``texts/``.
"""
