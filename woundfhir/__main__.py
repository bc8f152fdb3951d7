"""``python -m woundfhir`` is the ``woundfhir`` command."""

from woundfhir.cli import main

main()
