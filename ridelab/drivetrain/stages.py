"""Stages of a drivetrain: what each multiplies the crank's turns by, and which choices it offers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Choice:
    """One setting of a stage: its name for people ("38/18", "5") and output over input turns."""

    label: str
    ratio: float


@dataclass(frozen=True)
class Stage:
    """One step from the crank towards the driven wheel.

    Either ``choices`` holds at least one setting, or ``continuous`` holds the lowest and the highest
    ratio of a stepless stage; never both.
    """

    name: str
    choices: tuple[Choice, ...] = ()
    continuous: tuple[float, float] | None = None
    #: (driver teeth, driven teeth) of each choice, for chains and belts; empty otherwise.
    teeth: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True)
class ServiceInterval:
    """How often the maker wants the drivetrain serviced; whichever comes first."""

    every_km: float | None = None
    every_months: float | None = None


@dataclass(frozen=True)
class Drivetrain:
    """The chain of stages as its maker publishes it, from the crank outward."""

    name: str
    stages: tuple[Stage, ...]
    description: str = ""
    service: ServiceInterval | None = None
    #: stage name -> newton metres, as the maker limits them
    max_input_torque_nm: tuple[tuple[str, float], ...] = ()
