"""Frequency responses as texts in many forms, with the complex values that they stand for.

Every text is put together here from formatted numbers, and the values are those of the very digits in the
text, by Python's complex arithmetic. `bad_lines` are the lines, counted from 1, that are rows without a
value. Where rows share a frequency, the value is their mean. `weights` are those of a coherence c, c/(1 - c), over
their median (Bendat and Piersol, "Random Data", 9.1, from memory), none where all rows count alike.

`files` are texts in bytes, by Python's codecs.
"""

import cmath
import math
import random
from collections import defaultdict

from reference import write

TAU = 2 * math.pi
SEED = 20240612


def plant(f):
    """A response that goes through more than half a turn: two modes and a delay; f in Hz."""
    s = 1j * TAU * f
    modes = [(27.0, 0.08, 40.0), (2350.0, 0.006, 8.0)]
    total = sum(gain * (TAU * 27) ** 2 / (s**2 + 2 * d * TAU * f0 * s + (TAU * f0) ** 2) for f0, d, gain in modes)
    return total * cmath.exp(-s * 6e-6)


def grid(count, low=5.0, high=20e3):
    """Frequencies in Hz, alike in every decade."""
    return [low * (high / low) ** (k / (count - 1)) for k in range(count)]


def polar(level, angle):
    """The value of a magnitude in dB and a phase in degrees."""
    return cmath.rect(10 ** (level / 20), math.radians(angle))


def table(rows, formats, separator, comma=False):
    """Lines of formatted rows, and the numbers that their digits are."""
    lines, numbers = [], []
    for row in rows:
        cells = [format(value, form) for value, form in zip(row, formats)]
        numbers.append([float(cell) for cell in cells])
        lines.append(separator.join(cell.replace(".", ",") if comma else cell for cell in cells))
    return lines, numbers


def case(name, lines, pairs, bad_lines=(), end="\n", weights=None):
    """One text, and its points in order of frequency; weights are in that order."""
    same = defaultdict(list)
    for f, z in pairs:
        same[f].append(z)
    points = sorted((f, sum(zs) / len(zs)) for f, zs in same.items())
    return {
        "name": name,
        "text": end.join(lines) + end,
        "frequencies": [f for f, _ in points],
        "response": [[z.real, z.imag] for _, z in points],
        "bad_lines": list(bad_lines),
        "weights": weights,
    }


def by_coherence(rows):
    """Weights of rows of frequency and coherence, in order of frequency."""
    weights = [min(c, 0.9999) / (1 - min(c, 0.9999)) for _, c in sorted(rows)]
    median = sorted(weights)[len(weights) // 2]
    return [weight / median for weight in weights]


def grouped(cell, mark, decimal="."):
    """A formatted number with a mark between its thousands."""
    whole, _, rest = cell.partition(".")
    return f"{int(whole):,}".replace(",", mark) + (decimal + rest if rest else "")


def levels(frequencies):
    """Rows of frequency, dB and degrees."""
    answers = [(f, plant(f)) for f in frequencies]
    return [(f, 20 * math.log10(abs(z)), math.degrees(cmath.phase(z))) for f, z in answers]


def cases():
    """All texts."""
    rng = random.Random(SEED)

    lines, n = table(levels(grid(60)), [".6g", ".4f", ".3f"], "\t")
    head = ["\ufeff# Analyzer export", "Frequency (Hz)\tMagnitude (dB)\tPhase (deg)"]
    yield case("tabs, mark of byte order, CR LF", head + lines, [(f, polar(a, p)) for f, a, p in n], end="\r\n")

    lines, n = table(levels(grid(50)), [".3f", ".4f", ".3f"], ";", comma=True)
    head = ["Frequenz [Hz];Betrag [dB];Phase [°]", ""]
    yield case("semicolons and decimal commas", head + lines, [(f, polar(a, p)) for f, a, p in n])

    rows = [(k, rng.uniform(0.9, 1.0), *row) for k, row in enumerate(levels(grid(40)))]
    rng.shuffle(rows)
    lines, n = table(rows, ["d", ".3f", ".5e", ".4f", ".3f"], ",")
    head = ['"Index","Coherence","Frequency (Hz)","Mag[dB]","Phase_deg"']
    weights = by_coherence([(f, c) for _, c, f, _, _ in n])
    values = [(f, polar(a, p)) for _, _, f, a, p in n]
    yield case("commas, an index, a coherence, shuffled", head + lines, values, weights=weights)

    rows = [(TAU * f, plant(f).real, plant(f).imag) for f in grid(40)]
    lines, n = table(rows, ["14.6f", "16.8e", "16.8e"], " ")
    head = ["! solver output", "!   w rad/s   Re   Im"]
    lines = [line.replace("e", "D") for line in lines]
    yield case("blanks, exponents of Fortran, rad/s", head + lines, [(w / TAU, complex(a, b)) for w, a, b in n])

    rows = [(f, abs(plant(f)), cmath.phase(plant(f))) for f in grid(40)]
    lines, n = table(rows, [".8g", ".6e", ".6f"], " ")
    yield case("ratio and radians without a header", lines, [(f, cmath.rect(a, p)) for f, a, p in n])

    lines, n = table(levels(grid(40, 5.3)), [".3f", ".4f", ".3f"], ", ", comma=True)
    yield case("decimal commas, comma and blank", lines, [(f, polar(a, p)) for f, a, p in n])

    rows = [(f / 1e3, abs(plant(f)), p) for f, _, p in levels(grid(30))]
    lines, n = table(rows, [".6f", ".6e", ".3f"], " | ")
    head = ["| f (kHz) | gain (V/V) | phase (deg) |", "|---|---|---|"]
    lines = [f"| {line} |" for line in lines]
    values = [(f * 1e3, cmath.rect(a, math.radians(p))) for f, a, p in n]
    yield case("bars and kHz", head + lines, values)

    rows, turned, last = [], 0.0, 0.0
    for f, level, phase in levels(grid(200)):
        turned += (phase - last + 180) % 360 - 180
        last = phase
        rows.append((f, level, turned - 360, -3.0, 12.0))
    lines, n = table(rows[::-1], [".5g", ".4f", ".3f", ".1f", ".1f"], "\t")
    head = ["% two channels, downwards, phase not wrapped", "f\tMag 1 (dB)\tPhase 1\tMag 2 (dB)\tPhase 2"]
    yield case("two channels from high to low", head + lines, [(f, polar(a, p)) for f, a, p, _, _ in n])

    frequencies = grid(20)
    lines, n = table(levels(frequencies + frequencies[5:9]), [".6g", ".4f", ".3f"], ";")
    lines[2] = "7.5;NaN;-3.1"
    lines[7] = "0;-20;-160"
    lines[9] = "12.5;1e9;-160"
    lines[11] = "12.5;-20"
    lines.insert(4, "")
    lines.insert(6, "// drive turned down here")
    good = [row for k, row in enumerate(n) if k not in (2, 7, 9, 11)]
    text = ["f (Hz);|H| (dB);arg (deg)"] + lines
    bad = [4, 11, 13, 15]
    yield case("doubled and bad rows", text, [(f, polar(a, p)) for f, a, p in good], bad)

    rows = [(f, plant(f).real, plant(f).imag) for f in grid(60)]
    lines, n = table(rows, [".9g", ".9e", ".9e"], "\t")
    yield case("real and imaginary part without a header", lines, [(f, complex(a, b)) for f, a, b in n])

    # Marks between thousands, quoted where commas stand between cells as well.
    for mark, decimal, separator in [(",", ".", "\t"), (".", ",", ";"), (" ", ",", ";"), ("'", ".", " "), (",", ".", ",")]:
        lines, numbers = [], []
        for row in levels(grid(30)):
            cells = [format(row[0], ".2f"), format(row[1], ".4f"), format(row[2], ".3f")]
            numbers.append([float(cell) for cell in cells])
            first = grouped(cells[0], mark, decimal)
            rest = [cell.replace(".", decimal) for cell in cells[1:]]
            lines.append(separator.join([f'"{first}"' if separator == "," else first, *rest]))
        head = [separator.join(["Frequency(Hz)", "Mag(dB)", "Phase(deg)"])]
        name = f"thousands by {mark!r}, decimals by {decimal!r}, between cells {separator!r}"
        yield case(name, head + lines, [(f, polar(a, p)) for f, a, p in numbers])

    # Complex numbers in a cell: as Python prints them, as engineers write them, with decimal commas.
    dresses = {
        "1+2j": lambda z: f"{z.real!r}{z.imag:+}j",
        "(1+2j)": repr,
        "1 - 2i": lambda z: f"{z.real!r} {'-' if z.imag < 0 else '+'} {abs(z.imag)!r}i",
        "1-j2": lambda z: f"{z.real!r}{'-' if z.imag < 0 else '+'}j{abs(z.imag)!r}",
        "1,5+0,2j": lambda z: f"{z.real!r}{z.imag:+}j".replace(".", ","),
    }
    for name, dress in dresses.items():
        pairs = [(float(format(f, ".6g")), plant(f)) for f in grid(25)]
        comma = "," in name
        lines = [f"{str(f).replace('.', ',') if comma else f};{dress(z)}" for f, z in pairs]
        yield case(f"complex numbers as {name}", ["f in Hz;H"] + lines, pairs)

    # Option lines of Touchstone: unit, format, defaults, a remark, two ports.
    scales = {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6, "GHZ": 1e9, "": 1e9}
    for number, (unit, scale) in enumerate(scales.items()):
        form = ["RI", "MA", "DB", "", "ma"][number]
        for ports in (1, 2):
            lines, pairs = [f"! {ports} port", f"# {unit} S {form} R 50 ! by hand"], []
            for f in grid(20, 10e3, 10e6):
                z = plant(f / 1e3)
                answers = [0.1 + 0.2j, z, 0.3j * z, 0.4 - 0.1j] if ports == 2 else [z]
                first = format(f / scale, ".12g")
                cells, values = [first], []
                for answer in answers:
                    if form == "RI":
                        pair = [repr(answer.real), repr(answer.imag)]
                        values.append(complex(float(pair[0]), float(pair[1])))
                    else:
                        size = 20 * math.log10(abs(answer)) if form == "DB" else abs(answer)
                        pair = [repr(size), repr(math.degrees(cmath.phase(answer)))]
                        size = 10 ** (float(pair[0]) / 20) if form == "DB" else float(pair[0])
                        values.append(cmath.rect(size, math.radians(float(pair[1]))))
                    cells += pair
                lines.append("  ".join(cells) + (" ! noisy" if len(pairs) == 3 else ""))
                pairs.append((float(first) * scale, values[ports - 1]))
            yield case(f"Touchstone, {ports} ports, {unit or 'no unit'}, {form or 'no format'}", lines, pairs)


def files():
    """The same text in many bytes."""
    lines, _ = table(levels(grid(12)), [".4f", ".4f", ".3f"], "\t")
    text = "\n".join(["Frequenz (Hz)\tBetrag (dB)\tPhase (°)"] + lines) + "\n"
    marked = {"utf-8-sig": "", "utf-16": "", "utf-16-le": "\ufeff", "utf-16-be": "\ufeff"}
    for codec, mark in marked.items():
        yield {"codec": f"{codec} with a mark", "hex": (mark + text).encode(codec).hex(), "text": text}
    for codec in ["utf-8", "utf-16-le", "utf-16-be", "latin-1", "cp1252"]:
        yield {"codec": codec, "hex": text.encode(codec).hex(), "text": text}
    dashed = text.replace("-", "–")
    yield {"codec": "cp1252 with dashes", "hex": dashed.encode("cp1252").hex(), "text": dashed}


def main():
    write(__file__, {"cases": list(cases()), "files": list(files())}, [])


if __name__ == "__main__":
    main()
