"""What the bench asks without a recording: compute."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal

import typer

from voicereport.cli import common
from voicereport.cli.common import JsonOption, TradeOption

if TYPE_CHECKING:
    from voicereport.compute import Computed
    from voicereport.trades.limits import Limits

compute = typer.Typer(
    help="Conversions, sensors, refrigerants, heaters: worked, to check by hand.", no_args_is_help=True
)

ReferenceOption = Annotated[str, typer.Option(help="What the pressure is measured from: gauge, absolute or vacuum.")]
AltitudeOption = Annotated[float, typer.Option(help="Metres above the sea.")]
Unit = Annotated[str, typer.Argument(help="UCUM code: Ohm, V, kPa, [psi], Cel, [degF], ...")]
#: a value below zero is no option
_VALUES = {"ignore_unknown_options": True}
Reference = Literal["gauge", "absolute", "vacuum"]
_REFERENCES: dict[str, Reference] = {"gauge": "gauge", "absolute": "absolute", "vacuum": "vacuum"}


def register(app: typer.Typer) -> None:
    """Add this module's commands to the program."""
    app.add_typer(compute, name="compute")


@compute.command("convert", context_settings=_VALUES)
def convert(
    value: float,
    unit: Unit,
    to: Unit,
    difference: Annotated[bool, typer.Option("--difference", help="A difference of temperatures.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Give a value in another unit.

    Example: voicereport compute convert 22 "[psi]" kPa
    """
    from voicereport.compute import conversion

    _print(conversion(value, unit, to, difference=difference), as_json)


@compute.command("sensor", context_settings=_VALUES)
def sensor(
    context: typer.Context,
    curve: Annotated[str, typer.Argument(help="Sensor curve of the trade.")],
    ohms: Annotated[float | None, typer.Option(help="Measured ohms.")] = None,
    celsius: Annotated[float | None, typer.Option(help="Temperature, degrees Celsius.")] = None,
    trade: TradeOption = None,
    as_json: JsonOption = False,
) -> None:
    """Give the temperature that a sensor's ohms mean, or the ohms that a temperature should give."""
    from voicereport.compute import curve_of, sensor_ohms, sensor_temperature

    known = curve_of(_limits(context, trade), curve)
    if ohms is not None and celsius is None:
        _print(sensor_temperature(ohms, known), as_json)
    elif celsius is not None and ohms is None:
        _print(sensor_ohms(celsius, known), as_json)
    else:
        raise typer.BadParameter("give --ohms or --celsius, one of the two")


@compute.command("saturation", context_settings=_VALUES)
def saturation(
    context: typer.Context,
    refrigerant: str,
    pressure: float,
    unit: Unit,
    reference: ReferenceOption,
    altitude: AltitudeOption = 0.0,
    to: Annotated[str, typer.Option(help="Unit of the temperature.")] = "Cel",
    trade: TradeOption = None,
    as_json: JsonOption = False,
) -> None:
    """Give the saturation temperature of a refrigerant at a pressure."""
    from voicereport import compute as figures

    known = figures.refrigerant_of(_limits(context, trade), refrigerant)
    found = figures.saturation(known, pressure, unit, reference=_reference(reference), altitude_m=altitude, to_unit=to)
    _print(found, as_json)


@compute.command("superheat", context_settings=_VALUES)
def superheat(
    context: typer.Context,
    refrigerant: str,
    pressure: float,
    unit: Unit,
    line: Annotated[float, typer.Argument(help="Temperature of the suction line.")],
    line_unit: Unit,
    reference: ReferenceOption,
    altitude: AltitudeOption = 0.0,
    trade: TradeOption = None,
    as_json: JsonOption = False,
) -> None:
    """Give the superheat from suction pressure and line temperature."""
    from voicereport import compute as figures

    known = figures.refrigerant_of(_limits(context, trade), refrigerant)
    found = figures.superheat(
        known, pressure, unit, line, line_unit, reference=_reference(reference), altitude_m=altitude
    )
    _print(found, as_json)


@compute.command("subcooling", context_settings=_VALUES)
def subcooling(
    context: typer.Context,
    refrigerant: str,
    pressure: float,
    unit: Unit,
    line: Annotated[float, typer.Argument(help="Temperature of the liquid line.")],
    line_unit: Unit,
    reference: ReferenceOption,
    altitude: AltitudeOption = 0.0,
    trade: TradeOption = None,
    as_json: JsonOption = False,
) -> None:
    """Give the subcooling from head pressure and line temperature."""
    from voicereport import compute as figures

    known = figures.refrigerant_of(_limits(context, trade), refrigerant)
    found = figures.subcooling(
        known, pressure, unit, line, line_unit, reference=_reference(reference), altitude_m=altitude
    )
    _print(found, as_json)


@compute.command("heater")
def heater(
    volts: Annotated[float, typer.Option(help="Supply.")],
    ohms: Annotated[float | None, typer.Option(help="Measured ohms; gives watts and amperes.")] = None,
    watts: Annotated[float | None, typer.Option(help="Rated watts; gives ohms.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Give a heater's power and current from its ohms, or its ohms from its rating.

    Example: voicereport compute heater --volts 115 --ohms 31.6
    """
    from voicereport.compute import heater_amps, heater_ohms, heater_watts

    if ohms is not None and watts is None:
        _print_all([heater_watts(volts, ohms), heater_amps(volts, ohms)], as_json)
    elif watts is not None and ohms is None:
        _print(heater_ohms(volts, watts), as_json)
    else:
        raise typer.BadParameter("give --ohms or --watts, one of the two")


@compute.command("copper", context_settings=_VALUES)
def copper(
    ohms: float,
    at: Annotated[float, typer.Argument(help="Where it was measured, degrees Celsius.")],
    to: Annotated[float, typer.Argument(help="Where it is wanted, degrees Celsius.")],
    as_json: JsonOption = False,
) -> None:
    """Give a copper winding's ohms at another temperature."""
    from voicereport.compute import copper_ohms

    _print(copper_ohms(ohms, at, to), as_json)


@compute.command("pressure-test", context_settings=_VALUES)
def pressure_test(
    pressure: Annotated[float, typer.Argument(help="Gauge pressure at the start.")],
    unit: Unit,
    before: Annotated[float, typer.Argument(help="Degrees Celsius at the start.")],
    after: Annotated[float, typer.Argument(help="Degrees Celsius at the end.")],
    as_json: JsonOption = False,
) -> None:
    """Give the gauge pressure that a tight system shows after a change of temperature."""
    from voicereport import compute as figures

    _print(figures.pressure_test(pressure, unit, before, after), as_json)


@compute.command("room")
def room(
    context: typer.Context,
    refrigerant: str,
    charge: float,
    unit: Unit,
    trade: TradeOption = None,
    as_json: JsonOption = False,
) -> None:
    """Give the least volume of the room for a charge of a flammable refrigerant."""
    from voicereport.compute import least_room, refrigerant_of

    _print(least_room(refrigerant_of(_limits(context, trade), refrigerant), charge, unit), as_json)


@compute.command("recovery")
def recovery(
    context: typer.Context,
    refrigerant: str,
    charge: Annotated[float, typer.Argument(help="What was in it.")],
    recovered: Annotated[float, typer.Argument(help="What came out.")],
    unit: Unit,
    stopped: Annotated[bool, typer.Option("--stopped", help="The compressor does not run.")] = False,
    made: Annotated[int, typer.Option(help="Year that the appliance was made in.")] = 2000,
    trade: TradeOption = None,
    as_json: JsonOption = False,
) -> None:
    """Give the share of a charge that was recovered, and what the rules of the United States ask for.

    Example: voicereport compute recovery R-134a 110 102 g --stopped
    """
    from voicereport import compute as figures

    limits = _limits(context, trade)
    known = figures.refrigerant_of(limits, refrigerant)
    _print(figures.recovery(limits, known, charge, recovered, unit, running=not stopped, made=made), as_json)


def _limits(context: typer.Context, trade: str | None) -> Limits:
    from voicereport.trades import load_trade
    from voicereport.trades.limits import Limits

    return load_trade(common.settings_of(context, trade=trade).trade).limits or Limits()


def _reference(name: str) -> Reference:
    found = _REFERENCES.get(name)
    if found is None:
        raise typer.BadParameter(f"--reference: {name!r} is not one of {', '.join(_REFERENCES)}")
    return found


def _print(found: Computed, as_json: bool) -> None:
    _print_all([found], as_json)


def _print_all(rows: list[Computed], as_json: bool) -> None:
    from dataclasses import asdict

    if as_json:
        values = [asdict(row) for row in rows]
        return common.print_json(values[0] if len(values) == 1 else values)
    for row in rows:
        typer.echo(f"{row.worked}\nsource: {row.source}")
