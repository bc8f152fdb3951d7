"""Fetch what tests would fetch from npm and Maven Central when they first need it: ``python -m tests.fetch``.

What cannot be had is named, and is no error here: the tests that need it skip, or fail, and say why.
"""

from __future__ import annotations

from tests.conformance.jars import jars
from tests.conformance.renderer import folder as lforms
from tests.form.served import Unavailable
from tests.form.smart_forms import folder as smart_forms

if __name__ == "__main__":
    for fetch in (jars, lforms, smart_forms):
        try:
            fetch()
        except Unavailable as reason:
            print(reason)
