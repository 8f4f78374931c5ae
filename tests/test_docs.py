"""The documents say what the code does: commands, quantities, monitors, the examples."""

from __future__ import annotations

import argparse
import importlib
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import packhand
from collector.frames.decoder import Decoder
from collector.monitors import BUILT_IN, description_from_tables
from collector.record import QUANTITIES

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def parser_of(command: str) -> tuple[argparse.ArgumentParser, str]:
    module = importlib.import_module(packhand.COMMANDS[command][0])
    parser = argparse.ArgumentParser(prog=f"packhand {command}", description=module.__doc__)
    module.add_arguments(parser)
    return parser, parser.description or ""


@pytest.mark.parametrize("command", packhand.COMMANDS)
def test_every_command_has_help_with_an_example_and_stands_in_the_readme(command: str) -> None:
    """A command's help shows how to call it, and the README lists it with the same summary."""
    _, words = parser_of(command)

    assert f"packhand {command}" in words
    assert f"| `packhand {command}` | {packhand.COMMANDS[command][1]} |" in README


@pytest.mark.parametrize("name", QUANTITIES)
def test_every_quantity_stands_in_the_readme(name: str) -> None:
    """The README's table of words is the vocabulary, unit and meaning included."""
    quantity = QUANTITIES[name]

    assert f"| `{name}` | {quantity.unit or '—'} | {quantity.meaning} |" in README


@pytest.mark.parametrize("monitor", BUILT_IN)
def test_every_built_in_monitor_is_named(monitor: str) -> None:
    """A built-in monitor is named in the README or in the contributor's guide."""
    assert monitor in README + DEVELOPERS


def shell_lines(text: str) -> list[str]:
    blocks = re.findall(r"```sh\n(.*?)```", text, flags=re.DOTALL)
    lines = (line.partition("  #")[0].strip() for block in blocks for line in block.splitlines())
    return [line for line in lines if line.startswith("packhand ")]


@pytest.mark.parametrize("line", shell_lines(README))
def test_the_readmes_commands_parse(line: str) -> None:
    """Each command line in the README is one that the parser takes."""
    _, command, *words = shlex.split(line)
    parser, _ = parser_of(command)

    parser.parse_args(words)


def test_every_module_is_reachable_from_the_map() -> None:
    """Each folder of the house stands in the contributor's map."""
    folders = {path.relative_to(ROOT).as_posix() for package in ("collector", "analysis")
               for path in (ROOT / package).iterdir() if path.is_dir() and path.name[0] not in "._"}

    assert [folder for folder in folders if f"{folder.split('/')[1]}/" not in DEVELOPERS] == []


def test_links_between_documents_lead_somewhere() -> None:
    """A relative link in a document names a file that exists."""
    documents = [*ROOT.glob("*.md"), *ROOT.glob("sample_logs/*.md")]
    broken = [f"{document.name}: {target}" for document in documents
              for target in re.findall(r"\]\((?!https?:|#)([^)#]+)", document.read_text("utf-8"))
              if not (document.parent / target).exists()]

    assert broken == []


def test_the_front_door_opens_without_any_library() -> None:
    """``packhand --help`` imports nothing but the standard library."""
    code = ("import sys, packhand; packhand.main(['--help']);"
            "sys.exit(bool({'numpy', 'pandas', 'pyarrow', 'dash', 'serial'} & set(sys.modules)))")
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, check=False)

    assert done.returncode == 0
    for command in packhand.COMMANDS:
        assert command.encode() in done.stdout


def test_the_guides_monitor_description_reads_its_own_example() -> None:
    """The description printed in the contributor's guide loads and decodes what it shows."""
    block = re.search(r"```toml\n(.*?)```", DEVELOPERS, flags=re.DOTALL)
    assert block is not None
    description = description_from_tables(tomllib.loads(block[1]), "DEVELOPERS.md")
    example = description.examples[0]

    assert Decoder(description).feed(example.data) == [dict(example.values)]
