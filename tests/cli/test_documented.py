"""README's commands, exit codes and worked example against the command line itself."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from ridelab.cli import exits
from ridelab.cli.app import app

if TYPE_CHECKING:
    from tests.cli.conftest import Ridelab

README = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")


def test_readme_lists_the_commands_that_there_are() -> None:
    """Neither a command without a row nor a row without a command."""
    listed = re.findall(r"^\| `ridelab (\w+)", README, re.MULTILINE)
    assert list(dict.fromkeys(listed)) == list(typer.main.get_command(app).commands)  # type: ignore[attr-defined]


def test_readme_and_help_list_the_same_exit_codes() -> None:
    """Every code that the program can end with, in both places."""
    codes = {str(code) for name, code in vars(exits).items() if name.isupper() and name != "EPILOG"}
    sentence = README.partition("Exit codes:")[2].partition("\n")[0]
    assert set(re.findall(r"\b(\d+) \w", sentence)) == codes
    assert set(re.findall(r"^  (\d+) ", exits.EPILOG, re.MULTILINE)) == codes


def test_readme_answers_the_shop_as_the_program_does(ridelab: Ridelab, tmp_path: Path) -> None:
    """Its campaign fragment is right, and its output is what is printed."""
    section = README.partition("## Before anybody rides")[2]
    _, campaign, _, console, _ = section.split("```", 4)
    (tmp_path / "shop.toml").write_text(campaign.removeprefix("toml\n"), encoding="utf-8")
    command, printed = console.removeprefix("console\n$ ridelab ").split("\n", 1)
    assert ridelab(*command.split()) == (0, printed, "")


def test_readme_tells_torque_as_the_program_does(ridelab: Ridelab, tmp_path: Path) -> None:
    """The limit is added to the shop's campaign, and the output is what is printed."""
    shop = README.partition("## Before anybody rides")[2].split("```", 2)[1]
    _, limit, _, console, _ = README.partition("## What reaches the hub")[2].split("```", 4)
    text = f"{shop.removeprefix('toml')}{limit.removeprefix('toml')}"
    (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
    command, printed = console.removeprefix("console\n$ ridelab ").split("\n", 1)
    assert ridelab(*command.split()) == (0, printed, "")


def test_readme_answers_the_reviewer_as_the_program_does(ridelab: Ridelab, tmp_path: Path) -> None:
    """Its data sheet is right, and what is found on paper is what is printed."""
    section = README.partition("## A data sheet on paper")[2]
    _, campaign, _, console, _ = section.split("```", 4)
    (tmp_path / "review.toml").write_text(campaign.removeprefix("toml\n"), encoding="utf-8")
    command, _, printed = console.removeprefix("console\n$ ridelab ").split("\n", 2)
    done = ridelab(*command.split())
    assert done.code == 0
    assert done.out.endswith("\n\n" + printed)
