"""The grinding wheel, the turning work and their drives on the job sheet; a part of the sheet's schema."""

from __future__ import annotations

from typing import Annotated

from msgspec import Struct

from capture.metrology.grinding.wheel.drives import driven_rpm
from capture.sheet.schema import LENGTH, Key


class SpindleDrive(Struct, frozen=True):
    """The motor and the belt that turn a spindle."""

    motor_rpm: Annotated[
        float | None,
        Key("Motor", "revolutions a minute, under load", "1/min", above=0, most=60_000, rare=True),
    ] = None
    motor_pulley: Annotated[
        float | None,
        Key("Pulley on the motor", "its pitch diameter", LENGTH, above=0, rare=True),
    ] = None
    spindle_pulley: Annotated[
        float | None,
        Key("Pulley on the spindle", "its pitch diameter", LENGTH, above=0, rare=True),
    ] = None
    belt_length: Annotated[
        float | None,
        Key("Length of the belt", "its pitch length, once round", LENGTH, above=0, rare=True),
    ] = None

    @property
    def spindle_rpm(self) -> float | None:
        """Revolutions a minute of the spindle by motor and pulleys; None where one of them is not given."""
        if self.motor_rpm is None or self.motor_pulley is None or self.spindle_pulley is None:
            return None
        return driven_rpm(self.motor_rpm, self.motor_pulley, self.spindle_pulley)


class WheelData(Struct, frozen=True):
    """The grinding wheel, as it is mounted and as it is marked."""

    diameter: Annotated[float | None, Key("Wheel diameter", "as it is now", LENGTH, above=0)] = None
    width: Annotated[float | None, Key("Wheel width", "of the face that cuts", LENGTH, above=0)] = None
    rpm: Annotated[
        float | None, Key("Wheel spindle", "revolutions a minute of the wheel", "1/min", above=0)
    ] = None
    marked_speed: Annotated[
        float | None,
        Key("Speed marked on the wheel", "largest surface speed printed on it", "m/s", above=0, most=200),
    ] = None
    marked_rpm: Annotated[
        float | None,
        Key("Revolutions marked on the wheel", "largest number printed on it", "1/min", above=0),
    ] = None
    marking: Annotated[
        str,
        Key("Marking of the wheel", "abrasive, grain, grade, structure and bond, as A 60 K 8 V (ISO 525)"),
    ] = ""
    dress_lead: Annotated[
        float | None,
        Key("Dressing lead", "travel of the dresser in one revolution of the wheel", LENGTH, above=0),
    ] = None
    drive: SpindleDrive | None = None

    @property
    def spindle_rpm(self) -> float | None:
        """Revolutions a minute of the wheel: as given, else by its drive."""
        return self.rpm if self.rpm is not None or self.drive is None else self.drive.spindle_rpm


class WorkData(Struct, frozen=True):
    """How the work turns, travels and is held."""

    rpm: Annotated[
        float | None, Key("Work spindle", "revolutions a minute of the work", "1/min", above=0)
    ] = None
    traverse: Annotated[
        float | None, Key("Table speed, in a minute", "travel of the table in one minute", LENGTH, above=0)
    ] = None
    between_centres: Annotated[
        float | None, Key("Length between centres", "of the work as it is mounted", LENGTH, above=0)
    ] = None
    steady_rest: Annotated[bool, Key("Steady rest", "whether one supports the work")] = False
    drive: SpindleDrive | None = None

    @property
    def spindle_rpm(self) -> float | None:
        """Revolutions a minute of the work: as given, else by its drive."""
        return self.rpm if self.rpm is not None or self.drive is None else self.drive.spindle_rpm
