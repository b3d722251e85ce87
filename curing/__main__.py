"""The engine from a shell: `python -m curing age FILE`, `... timeline FILE`, `... fit FILE`."""

from __future__ import annotations

import argparse
import datetime as dt
import json
import os
import sys
from pathlib import Path
from typing import Any

from curing.calibration import calibrate
from curing.case import Case, load_case
from curing.coverage import CASES, coverage
from curing.coverage import as_text as as_lines
from curing.files import BadFile, read_table
from curing.fit_report import as_data, as_text
from curing.limits import maturity_notes
from curing.maturity import equivalent_age, temperature_time_factor
from curing.specimens import LAWS, Kind, law_for
from curing.strength_file import read_strengths


def parser() -> argparse.ArgumentParser:
    top = argparse.ArgumentParser(prog="python -m curing", description="Cure by temperature.")
    commands = top.add_subparsers(dest="command", required=True)
    age = commands.add_parser(
        "age",
        help="cumulative temperature-time factor and equivalent age of readings (ASTM C1074)",
        description="Columns: time (ISO 8601 with zone) or hours; celsius or fahrenheit.",
    )
    age.add_argument("file", type=Path, help="CSV file")
    age.add_argument("--datum", type=float, default=0.0, help="datum temperature, °C (0)")
    age.add_argument(
        "--activation-energy", type=float, default=41500.0, help="J/mol (41500)", metavar="J"
    )
    age.add_argument("--reference", type=float, default=20.0, help="reference, °C (20)")
    age.add_argument("--json", action="store_true", help="print JSON")
    age.set_defaults(run=run_age)
    timeline = commands.add_parser(
        "timeline",
        help="when each step of a piece may be done",
        description="curing/examples/case.toml shows what a case holds.",
    )
    timeline.add_argument("file", type=Path, help="TOML file")
    timeline.add_argument("--json", action="store_true", help="print JSON")
    timeline.set_defaults(run=run_timeline)
    _add_fit(commands)
    trial = commands.add_parser(
        "coverage",
        help="how often simulated shops are ready by the times that were stated",
        description="Each shop's truth is drawn from the stated uncertainty. Takes minutes.",
    )
    trial.add_argument("--cases", type=int, default=CASES, help=f"simulated shops ({CASES})")
    trial.add_argument("--seed", type=int, default=1, help="of all draws (1)")
    trial.set_defaults(run=run_coverage)
    return top


def _add_fit(commands: Any) -> None:
    fit = commands.add_parser(
        "fit",
        help="a mix's strength curve, its band and its activation energy from tests",
        description="Columns: hours or days; mpa or psi; if wanted celsius or fahrenheit of curing "
        "(without: ages at 20 °C), kind (cube, cylinder, coupon), note.",
    )
    fit.add_argument("file", type=Path, help="CSV file")
    fit.add_argument(
        "--activation-energy", type=float, default=41500.0, help="J/mol (41500)", metavar="J"
    )
    for kind in (Kind.CYLINDER, Kind.COUPON):
        laws = LAWS[kind]
        fit.add_argument(
            f"--{kind}s",
            choices=[law.key for law in laws],
            default=laws[0].key,
            help="; ".join(f"{law.key}: {law.name}" for law in laws).replace("%", "%%"),
        )
    fit.add_argument("--json", action="store_true", help="print JSON")
    fit.set_defaults(run=run_fit)


def run_age(options: argparse.Namespace) -> None:
    table = read_table(options.file)
    factor = temperature_time_factor(table.hours, table.celsius, options.datum)
    age = equivalent_age(table.hours, table.celsius, options.activation_energy, options.reference)
    notes = maturity_notes(float(min(table.celsius)), float(max(table.celsius)))
    rows = [
        {
            "time": label,
            "hours": round(hours, 6),
            "celsius": round(celsius, 3),
            "temperature_time_factor": round(float(sum_), 3),
            "equivalent_age": round(float(aged), 4),
        }
        for label, hours, celsius, sum_, aged in zip(
            table.labels, table.hours, table.celsius, factor, age, strict=True
        )
    ]
    if options.json:
        settings = {
            "datum": options.datum,
            "activation_energy": options.activation_energy,
            "reference": options.reference,
        }
        told = [{"key": note.key, "text": note.text, "basis": note.basis} for note in notes]
        print(json.dumps({**settings, "notes": told, "rows": rows}, indent=2))
        return
    width = max(len("time"), *(len(label) for label in table.labels))
    reference = f"{options.reference:g}"
    print(f"{'time':{width}}  {'°C':>7}  {'°C·h':>10}  {f'h at {reference} °C':>12}")
    for row in rows:
        print(
            f"{row['time']:{width}}  {row['celsius']:7.1f}  "
            f"{row['temperature_time_factor']:10.1f}  {row['equivalent_age']:12.2f}"
        )
    for note in notes:
        print(f"curing: {note.text} [{note.basis}]", file=sys.stderr)


def run_timeline(options: argparse.Namespace) -> None:
    case = load_case(options.file)
    if options.json:
        print(
            json.dumps([_as_data(case, number) for number in range(len(case.milestones))], indent=2)
        )
        return
    names = ("earliest", "workable", "early", "likely", "late")
    print(f"{'step':20} {' '.join(name.ljust(16) for name in names)} governs")
    for milestone, one in zip(case.milestones, case.ranges, strict=True):
        at = (milestone.earliest, milestone.workable, one.early, one.likely, one.late)
        times = " ".join(_clock(case, moment) for moment in at)
        held = f"; then {milestone.held_by}" if milestone.held_by else ""
        note = f" [{milestone.note}]" if milestone.note else ""
        print(f"{milestone.name[:20]:20} {times} {milestone.detail}{held}{note}")
    air = case.doubt.air
    print(
        f"\nEarly, likely and late: workable by then in 10, 50 and 90 of 100 draws "
        f"({case.doubt.draws} drawn: expected air ±{air.sd:g} K and remembered {air.memory:g} h, "
        f"curve ±{case.curve_band * 100:g} %, drying, labour)."
    )
    print("An estimate from the air and the curve in the file; the shop's own tests come first.")


def run_fit(options: argparse.Namespace) -> None:
    table = read_strengths(options.file)
    laws = {
        Kind.CUBE: LAWS[Kind.CUBE][0],
        Kind.CYLINDER: law_for(Kind.CYLINDER, options.cylinders),
        Kind.COUPON: law_for(Kind.COUPON, options.coupons),
    }
    result = calibrate(table.tests, activation_energy=options.activation_energy, laws=laws)
    if options.json:
        print(json.dumps(as_data(result), indent=2))
        return
    for line in as_text(result, table.unit):
        print(line)


def run_coverage(options: argparse.Namespace) -> None:
    for round_the_clock in (True, False):
        found = coverage(options.cases, seed=options.seed, round_the_clock=round_the_clock)
        for line in as_lines(found):
            print(line)


def _as_data(case: Case, number: int) -> dict[str, Any]:
    milestone, one = case.milestones[number], case.ranges[number]
    return {
        "step": milestone.key,
        "name": milestone.name,
        "earliest": _iso(case.moment(milestone.earliest)),
        "workable": _iso(case.moment(milestone.workable)),
        "finish": _iso(case.moment(milestone.finish)),
        "early": _iso(case.moment(one.early)),
        "likely": _iso(case.moment(one.likely)),
        "late": _iso(case.moment(one.late)),
        "governs": milestone.governs,
        "held_by": milestone.held_by,
        "detail": milestone.detail,
        "note": milestone.note,
        "done": milestone.done,
        "waits": [
            {
                "criterion": wait.criterion,
                "until": _iso(case.moment(wait.until)),
                "needed": wait.needed,
                "unit": wait.unit,
            }
            for wait in milestone.waits
        ],
    }


def _iso(moment: dt.datetime | None) -> str | None:
    return moment.isoformat(timespec="seconds") if moment else None


def _clock(case: Case, hours: float) -> str:
    moment = case.moment(hours)
    return f"{moment:%a %d %b %H:%M}".ljust(16) if moment else "not in sight".ljust(16)


def main(arguments: list[str] | None = None) -> int:
    options = parser().parse_args(arguments)
    try:
        options.run(options)
        sys.stdout.flush()
    except BrokenPipeError:
        # Whoever read the beginning, such as `head`, wanted no more: that is not a fault.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (BadFile, ValueError) as error:
        print(f"curing: {error}", file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
