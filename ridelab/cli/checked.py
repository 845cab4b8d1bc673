"""``ridelab check``: what a campaign says before any ride is read."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from ridelab.cli.columns import NOTHING, shown
from ridelab.cli.exits import DONE, USAGE
from ridelab.cli.output import print_objects, print_table, say, say_prose, tell, tell_problem
from ridelab.cli.text import NO_BREAK, Column, counted, printable
from ridelab.cli.torque import print_assumptions

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from typing import Any

    from ridelab.analysis.on_paper import OnPaper
    from ridelab.campaign import Campaign
    from ridelab.campaign.summary import Row

#: Columns that a person need not see: "printed" says the value of a claim.
_SPARED = {"value", "vehicles", "settings"}
_TITLES = {
    "nominal_rollout_m": "rollout, nominal",
    "loaded_rollout_low_m": "loaded, from",
    "loaded_rollout_high_m": "to",
    "measured_rollout_m": "measured",
    "primary_ratio": "ratio in front",
    "input_torque_nm": "highest input torque",
    "max_input_torque_nm": "stated limit",
    "min_primary_ratio": "least ratio stated",
}
_AGREES = {True: "yes", False: "no", None: ""}


def print_check(campaign: Campaign, *, as_json: bool = False) -> int:
    """Print what was understood of a campaign, warn of globs in vain, and return the exit code.

    A campaign that gives one file to two vehicles, or names what is no file, is a wrong one. Claims
    that contradict each other are told, but may well be what the campaign is about.
    """
    from ridelab.campaign import describe, find_rides, torque_problems, wheel_problems

    found = find_rides(campaign)
    sections = describe(campaign, found)
    on_paper = _on_paper(campaign)
    if as_json:
        _print_json(sections, on_paper)
    else:
        say(f"{printable(campaign.name)}: {counted(len(found.files), 'ride file')}")
        _print_sections(sections, campaign)
        if sections["torque"]:
            print_assumptions(campaign)
        if on_paper is not None:
            _print_on_paper(on_paper)
            _print_untestable(campaign)
    for problem in (*found.problems, *wheel_problems(campaign), *torque_problems(campaign)):
        tell_problem(problem)
    if not campaign.vehicles:
        accepted = "a table for each, such as [vehicles.heron]"
        tell(f"warning: {printable(str(campaign.file))}: no vehicle; accepted: {accepted}")
    return USAGE if any(problem.severity == "error" for problem in found.problems) else DONE


def _print_sections(sections: Mapping[str, list[Row]], campaign: Campaign) -> None:
    import polars as pl

    for rows in filter(None, sections.values()):
        frame = pl.DataFrame(rows, infer_schema_length=None)
        known = [name for name in frame.columns if frame[name].count() and name not in _SPARED]
        say()
        columns = shown(frame.select(known), campaign.units)
        print_table(
            [
                replace(one, name=_TITLES.get(name, one.name))
                for name, one in zip(known, columns, strict=True)
            ]
        )


def _on_paper(campaign: Campaign) -> OnPaper | None:
    """Return what the claims say before any ride; None where there are none."""
    if not campaign.claims:
        return None
    from ridelab.analysis.on_paper import check_on_paper

    return check_on_paper(campaign)


def _print_on_paper(on_paper: OnPaper) -> None:
    """Print what is made of each claim, drivetrain by drivetrain, and what cannot be true."""
    for drivetrain in on_paper.rows["drivetrain"].unique(maintain_order=True):
        rows = on_paper.rows.filter(on_paper.rows["drivetrain"] == drivetrain).to_dicts()
        say()
        say_prose(f"On paper, {drivetrain}")
        print_table(_claims_on_paper(rows))
    if on_paper.contradictions:
        say()
        say("What cannot be true on paper")
    for one in on_paper.contradictions:
        say_prose(f"- {one.message}")


def _print_untestable(campaign: Campaign) -> None:
    from ridelab.analysis.paper_words import named
    from ridelab.campaign import BY_TWO_METERS, UNTESTABLE

    by_meters = {v.drivetrain for v in campaign.vehicles.values() if campaign.tells_loss(v.name)}
    claims = [
        claim
        for claim in campaign.claims
        if claim.quantity in UNTESTABLE
        and not (claim.quantity in BY_TWO_METERS and claim.drivetrain in by_meters)
    ]
    if claims:
        say()
        say("What no ride can test")
    for claim in claims:
        say_prose(f"- {named(claim)}: {UNTESTABLE[claim.quantity]}")


def _claims_on_paper(rows: Sequence[Mapping[str, Any]]) -> list[Column]:
    columns = {
        "claim": [row["claim"] for row in rows],
        "agrees": [_AGREES[row["agrees"]] for row in rows],
        "what": [_what(row) for row in rows],
        "by the other claims": [row["others"] for row in rows],
        "by ladder and wheel": [row["paper"] for row in rows],
    }
    return [
        Column(name, [printable(cell or NOTHING) for cell in cells], wraps=name == "what")
        for name, cells in columns.items()
        if any(cells)
    ]


def _what(row: Mapping[str, Any]) -> str:
    """Return "speed in the lowest gear at 60 rpm, heron: 3 mph"."""
    whose = f", {row['vehicle']}" if row["vehicle"] else ""
    return f"{row['about']}{whose}: {(row['claimed'] or NOTHING).replace(' ', NO_BREAK)}"


def _print_json(sections: Mapping[str, list[Row]], on_paper: OnPaper | None) -> None:
    """Print one object a row, each with the section it is of."""
    rows: list[dict[str, object]] = [
        {"section": name, **row} for name, found in sections.items() for row in found
    ]
    if on_paper is not None:
        rows += [{"section": "on paper", **row} for row in on_paper.rows.to_dicts()]
        rows += [
            {
                "section": "contradictions",
                "drivetrain": one.drivetrain,
                "vehicle": one.vehicle,
                "claims": list(one.claims),
                "beside": sorted(one.sources),
                "message": one.message,
            }
            for one in on_paper.contradictions
        ]
    print_objects(rows)
