"""Commands as scripts call them: one JSON object, exit codes, one line for a slip, no numpy where none is needed."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from tests.cli.calling import call

import wetside
from wetside.app.schemas import schema, schema_names
from wetside.cli.main import COMMANDS


@pytest.mark.parametrize("words", [
    ["look", "no-such-folder"], ["read", "no-such-folder"], ["read", ".", "--patch", "x"], ["read", ".", "--px-per-mm", "-3"],
    ["read", ".", "--gauge", "120"], ["positive", "no-such-folder", "--out", "x"], ["plan", "no-such.json"], ["mix", "--process", "ecn-2", "--volume", "-5"],
    ["mix", "--process", "b-w", "--volume", "500"], ["causes"], ["causes", "--evidence", "no.json"], ["stock", "no-such-stock"],
    ["book", "export", "x.txt"], ["book", "import", "no.txt"], ["note", "rol", "x=1"], ["schema", "rea"], ["lok"], ["read", ".", "--nonsense"],
])  # fmt: skip
def test_a_slip_is_one_line_and_exit_2(words: list[str], tmp_path: Path) -> None:
    done = call(*words, "--json", home=tmp_path / "none")
    assert done.returncode == 2, done.stderr
    assert len(done.stderr.strip().splitlines()) == 1 and "Traceback" not in done.stderr
    said = json.loads(done.stdout)
    assert said["schema"] == "wetside.error/1" and said["what"]


@pytest.mark.parametrize("command", ["book", "note", "shelf", "schema"])
def test_book_commands_do_not_load_numpy(command: str) -> None:
    words = {"book": ["check"], "note": ["hello"], "shelf": [], "schema": []}[command]
    program = (
        "import sys, tempfile, os; os.environ['WETSIDE_HOME'] = tempfile.mkdtemp();"
        f"from wetside.cli.main import main; main(['note', 'first']); main({[command, *words]!r}); sys.exit('numpy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", program], capture_output=True, check=False).returncode == 0


def test_export_import_export_is_the_same_to_the_byte(tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    assert (
        call("note", "roll", "roll=R01", "stock=DAY90", "gauge=135", "length_mm=1622", home=one).returncode
        == 0
    )
    assert call("note", "wind from the\nwest – naß", "--about", "roll:R01", home=one).returncode == 0
    assert call("book", "export", str(tmp_path / "a.txt"), home=one).returncode == 0
    assert call("book", "import", str(tmp_path / "a.txt"), home=two).returncode == 0
    assert call("book", "export", str(tmp_path / "b.txt"), home=two).returncode == 0
    assert (tmp_path / "a.txt").read_bytes() == (tmp_path / "b.txt").read_bytes()
    assert call("book", "export", str(tmp_path / "b.txt"), home=two).returncode == 2
    (tmp_path / "bad.txt").write_text((tmp_path / "a.txt").read_text() + "not a line\n")
    refused = call("book", "import", str(tmp_path / "bad.txt"), home=tmp_path / "three")
    assert refused.returncode == 2 and ":4" in refused.stderr


@pytest.mark.parametrize("name", schema_names())
def test_every_schema_fits_its_example(name: str) -> None:
    found = schema(name)
    jsonschema.Draft202012Validator.check_schema(found["json_schema"])
    jsonschema.validate(found["example"], found["json_schema"])


def test_a_mixing_sheet_keeps_to_its_schema() -> None:
    done = call(
        "mix",
        "--process",
        "ecn-2",
        "--volume",
        "600",
        "--tank-g",
        "350",
        "--tank-c",
        "21",
        "--room-c",
        "21",
        "--json",
    )
    assert done.returncode == 0, done.stderr
    jsonschema.validate(json.loads(done.stdout), schema("mix")["json_schema"])


@pytest.mark.parametrize(
    ("words", "code"), [(("--help",), 0), (("shelf", "--json"), 0), (("lok", "--json"), 2)]
)
def test_a_process_of_its_own_ends_as_its_command_does(
    words: tuple[str, ...], code: int, tmp_path: Path
) -> None:
    program = [sys.executable, "-m", "wetside.cli.main", *words]
    env = {**os.environ, "WETSIDE_HOME": str(tmp_path)}
    done = subprocess.run(program, capture_output=True, text=True, env=env, check=False, timeout=120)
    here = call(*words, home=tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (code, here.stdout, here.stderr)


def test_help_lists_every_command() -> None:
    assert all(name in call("--help").stdout for name in COMMANDS)


@pytest.mark.independent(how="the interpreter's own list of what it loaded")
def test_help_of_no_command_loads_what_takes_long_to_load() -> None:
    asked = (
        "import sys; began = set(sys.modules)\n"
        "from wetside.cli.main import COMMANDS, main\n"
        "for name in COMMANDS:\n"
        "    try: main([name, '--help'])\n"
        "    except SystemExit: pass\n"
        "slow = {'numpy', 'dataclasses', 'json', 'pathlib', 'shutil', 'typing', 'datetime'}\n"
        "print(*(slow & (set(sys.modules) - began)), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert done.stdout.count("usage: wetside ") == len(COMMANDS) and done.stderr.split() == []


def test_every_object_that_is_printed_or_written_has_its_schema() -> None:
    room = Path(wetside.__file__).parent
    told = {name for file in room.rglob("*.py") for name in re.findall(r"\"wetside\.([a-z-]+)/1\"", file.read_text(encoding="utf-8"))}  # fmt: skip
    spoken_of_alone = {
        "schema",
        "schemas",
        "departures",
    }  # what `schema` itself prints; a line of the demo's book
    assert told - spoken_of_alone - set(schema_names()) == set()


def test_what_the_book_prints_keeps_to_its_schemas(tmp_path: Path) -> None:
    lines = (
        ("note", "roll", "roll=R01", "stock=DAY90", "gauge=135"), ("note", "tank", "tank=blue", "volume_ml=300"),
        ("note", "bath", "bath=dev", "role=developer", "volume_ml=300"), ("note", "parcel", "parcel=P", "laboratory=L", "rolls=R01"),
        ("note", "leaks", "--about", "blue"), ("shelf",), ("book", "check"),
    )  # fmt: skip
    for words in lines:
        done = call(*words, "--json", home=tmp_path)
        assert done.returncode == 0, done.stderr
        jsonschema.validate(json.loads(done.stdout), schema(words[0])["json_schema"])
    refused = call("shelf", "--nonsense", "--json", home=tmp_path)
    jsonschema.validate(json.loads(refused.stdout), schema("error")["json_schema"])
