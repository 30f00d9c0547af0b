"""Commands called as a script calls them, in this process: a start of the interpreter costs a second each."""

from __future__ import annotations

import os
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path
from subprocess import CompletedProcess
from unittest.mock import patch

from wetside.cli.main import main


def call(*words: str, home: Path | None = None) -> CompletedProcess[str]:
    """What a command line gives back over a book: exit code, stdout, stderr."""
    said, slips = StringIO(), StringIO()
    book = patch.dict(os.environ, WETSIDE_HOME=str(home or "nowhere"))
    with redirect_stdout(said), redirect_stderr(slips), book:
        try:
            code = main(list(words))
        except SystemExit as end:
            code = int(end.code or 0)
    return CompletedProcess(words, code, said.getvalue(), slips.getvalue())
