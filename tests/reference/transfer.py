"""Responses of a path, a plant and their loop from poles, zeros and gains, as the README has Python read them.

The lines that run are the README's own, on transfer_outcome.json, which the program wrote. Path by SciPy
(ZerosPolesGain), plant by python-control (zpk) with its delay; the loop once more from its own poles, zeros and
gain by SciPy, which must be the product of both.
"""

import os
import re
import shutil
import tempfile

import numpy as np
from scipy import signal

from reference import HERE, write


def example():
    """The Python block of the README."""
    text = (HERE.parent.parent / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"^```python\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)
    (block,) = [block for block in blocks if "ZerosPolesGain" in block]
    return block


def run(block):
    """What its names stand for after it ran beside an outcome."""
    names = {}
    before = os.getcwd()
    with tempfile.TemporaryDirectory() as place:
        shutil.copy(HERE / "transfer_outcome.json", f"{place}/outcome.json")
        os.chdir(place)
        try:
            exec(block, names)
        finally:
            os.chdir(before)
    return names


def main():
    names = run(example())
    omega, told = names["omega"], names["told"]["loop"]
    _, loop = signal.ZerosPolesGain(*names["zpk"]("loop")).freqresp(omega)
    loop = loop * np.exp(-1j * omega * told["delay"])
    apart = np.abs(loop / names["loop"] - 1).max()
    if apart > 1e-6:
        raise ValueError(f"the loop is {apart} from the product of path and plant")

    def pairs(values):
        return [[z.real, z.imag] for z in np.asarray(values).tolist()]

    data = {
        "frequencies": (omega / (2 * np.pi)).tolist(),
        "path": pairs(names["path"]),
        "plant": pairs(names["plant"]),
        "loop": pairs(loop),
        "self_check": {"loop_against_product": float(apart)},
    }
    write(__file__, data, ["numpy", "scipy", "control"])


if __name__ == "__main__":
    main()
