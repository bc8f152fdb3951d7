"""Where the tests of a mark lie: the lanes of CI look for them nowhere else, as collecting all tests takes its time.

``python -m tests.lanes MARK`` prints the folders; ``tests/test_house.py`` refuses a test that lies elsewhere.
"""

from __future__ import annotations

import sys

FOLDERS = {
    "browser": ("tests/conformance", "tests/form", "tests/guide", "tests/handover", "tests/page"),
    "engine": ("tests/conformance", "tests/drawing", "tests/jose"),
    "server": ("tests/servers",),
    "spark": ("tests/spark",),
}

if __name__ == "__main__":
    print(*FOLDERS[sys.argv[1]])
