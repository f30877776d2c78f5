"""What the reference scripts share: the argument, the versions, writing JSON.

Nothing is computed here.
"""

import argparse
import json
import platform
from importlib.metadata import version
from pathlib import Path

HERE = Path(__file__).parent


def netlists():
    """The circuits of netlists.json by name, in the order of the file."""
    circuits = json.loads((HERE / "netlists.json").read_text(encoding="utf-8"))
    return {circuit["name"]: circuit for circuit in circuits}


def write(script, data, packages):
    """Write `data` as JSON beside `script`, or to the path given by --out.

    `script` is the caller's __file__, `packages` the names of the packages that made the data.
    Their versions and Python's are added under the key "versions".
    """
    parser = argparse.ArgumentParser()
    parser.add_argument("--out", type=Path, default=Path(script).with_suffix(".json"), metavar="PATH")
    out = parser.parse_args().out
    versions = {name: version(name) for name in packages}
    versions["python"] = platform.python_version()
    out.write_text(layout({**data, "versions": versions}) + "\n", encoding="utf-8")


def layout(value, indent=""):
    """JSON text with sorted keys: a line for each key, and a list without objects on one line."""
    deeper = indent + " "
    if isinstance(value, dict):
        lines = [f"{json.dumps(key)}: {layout(value[key], deeper)}" for key in sorted(value)]
        ends = "{}"
    elif isinstance(value, list) and any(isinstance(item, dict) for item in value):
        lines = [layout(item, deeper) for item in value]
        ends = "[]"
    else:
        return json.dumps(value, allow_nan=False)
    return ends[0] + "\n" + ",\n".join(deeper + line for line in lines) + "\n" + indent + ends[1]
