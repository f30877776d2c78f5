"""Run every reference script again and compare its JSON with the one beside it; exit 1 if one differs.

Numbers agree when they are within 1e-9 of each other, relative to the larger or to the largest in
their list: another processor rounds the last digits another way. "versions" and "self_check" are
left out of the comparison.
"""

import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

from reference import HERE

SCRIPTS = ["nodal", "symbolic", "e_series", "interval", "spread", "responses"]
LEFT_OUT = {"versions", "self_check"}


def differences(old, new, where, scale=0.0):
    """The places where two JSON values differ, as text. `scale` is the largest number around."""
    if isinstance(old, dict) and isinstance(new, dict) and old.keys() == new.keys():
        children = [(key, old[key], new[key]) for key in old if key not in LEFT_OUT]
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        children = list(zip(range(len(old)), old, new))
        scale = max((abs(item) for item in old if isinstance(item, float)), default=0.0)
    elif isinstance(old, float) and isinstance(new, float):
        same = math.isclose(old, new, rel_tol=1e-9, abs_tol=1e-9 * scale)
        return [] if same else [f"{where}: {old!r} was, {new!r} is"]
    else:
        return [] if old == new else [f"{where}: {old!r} was, {new!r} is"]
    return [text for key, a, b in children for text in differences(a, b, f"{where}/{key}", scale)]


def main():
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for name in SCRIPTS:
            out = Path(folder, name + ".json")
            subprocess.run([sys.executable, HERE / f"{name}.py", "--out", out], check=True)
            files = [HERE / f"{name}.json", out]
            old, new = (json.loads(file.read_text(encoding="utf-8")) for file in files)
            found += differences(old, new, name)
    print("\n".join(found[:40]) or f"{len(SCRIPTS)} references made again, all alike")
    sys.exit(bool(found))


if __name__ == "__main__":
    main()
