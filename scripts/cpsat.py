#!/usr/bin/env python3
"""Several breads in one kitchen, chosen by OR-Tools CP-SAT.

Written by hand after the description in crates/engine/src/plan/together.rs; weekends come from
`cargo run --release -p xtask -- together`, which also runs this and compares. OR-Tools is installed
by the script itself, into target/together/venv.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent.parent / "target" / "together" / "venv"
try:
    if Path(sys.prefix) != HERE:
        raise ImportError
    import ortools
    from ortools.sat.python import cp_model
except ImportError:
    if Path(sys.prefix) == HERE and "AGAIN" in os.environ:
        sys.exit("OR-Tools does not import in target/together/venv")
    python = HERE / "bin" / "python"
    if not python.exists():
        subprocess.run([sys.executable, "-m", "venv", HERE], check=True, stdout=sys.stderr)
    if subprocess.run([python, "-c", "import ortools"], stderr=subprocess.DEVNULL).returncode:
        install = [python, "-m", "pip", "install", "-q", "ortools"]
        subprocess.run(install, check=True, stdout=sys.stderr)
    os.environ["AGAIN"] = "1"
    os.execv(python, [str(python), *sys.argv])

from time import perf_counter

WORKERS = os.cpu_count() or 1
PATIENCE_S = 60.0


def busy(candidate, resource):
    """Stretches, from and up to, in which a candidate needs a thing of which there is one."""
    if resource == "hands":
        return candidate["hands"]
    return [[load - reheat, until] for reheat, load, until in candidate["oven"]]


def covering(stretches, minute):
    return any(a <= minute < b for a, b, *_ in stretches)


def build(weekend):
    model = cp_model.CpModel()
    chosen = []  # (candidate, its variable)
    for bread in weekend["breads"]:
        literals = [model.new_bool_var("") for _ in bread]
        model.add_exactly_one(literals)
        chosen.extend(zip(bread, literals))
    # where stretches meet, one of them begins
    for resource in ["hands", "oven"]:
        needs = [(busy(c, resource), x) for c, x in chosen]
        for minute in sorted({a for stretches, _ in needs for a, _ in stretches}):
            at_once = [x for stretches, x in needs if covering(stretches, minute)]
            if len(at_once) > 1:
                model.add_at_most_one(at_once)
    if weekend["fridge"] is not None:
        begins = {a for c, _ in chosen for a, _, _ in c["fridge"]} | {a for a, _, _ in weekend["taken"]}
        for minute in sorted(begins):
            cold = [
                (litres, x)
                for c, x in chosen
                for a, b, litres in c["fridge"]
                if a <= minute < b
            ]
            taken = sum(litres for a, b, litres in weekend["taken"] if a <= minute < b)
            if cold:
                left = max(weekend["fridge"] - taken, 0)
                model.add(sum(litres * x for litres, x in cold) <= left)
    if weekend["starter"] is not None:
        edges = [-(10**9), *sorted(weekend["rebuilt"]), 10**9]
        for a, b in zip(edges, edges[1:]):
            takings = [
                (grams, x) for c, x in chosen for minute, grams in c["starter"] if a <= minute < b
            ]
            if takings:
                model.add(sum(grams * x for grams, x in takings) <= weekend["starter"])
    model.minimize(sum(c["cost"] * x for c, x in chosen))
    return model


def main():
    answers = []
    for weekend in json.loads(Path(sys.argv[1]).read_text()):
        start = perf_counter()
        model = build(weekend)
        built = perf_counter()
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = WORKERS
        solver.parameters.max_time_in_seconds = PATIENCE_S
        status = solver.solve(model)
        solved = perf_counter()
        found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
        answers.append(dict(
            status=solver.status_name(status),
            cost=round(solver.objective_value) if found else None,
            building=built - start,
            seconds=solved - built,
        ))
        print(len(answers), answers[-1], file=sys.stderr, flush=True)
    print(json.dumps(dict(answers=answers, version=ortools.__version__, workers=WORKERS)))


main()
