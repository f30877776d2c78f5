//! All fields of a design, in groups.

mod about;
mod bench;
mod board;
mod filter;
mod op_amps;
mod plant;
mod servo;
mod shaft;
mod spread;
mod supply;
mod whole;

use super::Design;
use super::field::{Field, Kind, Step};
use super::limits::{FREQUENCIES, IMPEDANCES, TEMPCOS, TOLERANCES};
use crate::parts::Series;
use crate::quantity::Unit;
use crate::stages::{Given, Place, catalogued};

/// A set of fields that stand together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Group {
    /// What the design is for; and an entry of its log, from 0.
    About,
    LogEntry(usize),
    /// What is asked of a stage, by its place in the path.
    Ask(usize),
    Limits(usize),
    Resistors,
    Capacitors,
    /// What decides responses of the usual op amp, and the rest of its data sheet.
    OpAmp,
    OpAmpData,
    /// An op amp of the list, by its place.
    OwnOpAmp(usize),
    /// Which op amps a stage has.
    StageOpAmps(usize),
    /// What was measured of the built board, and a stage's trimmer.
    Bench,
    Trimmer(usize),
    /// Rails and load.
    Conditions,
    /// The band over which noise is added up, and the temperature.
    Noise,
    /// Where the largest signal enters, and a point of it, by its place.
    Signal,
    SignalPoint(usize),
    /// How a set is chosen among those that do as well.
    Picks(usize),
    /// How many boards are drawn, and where they work.
    Spread,
    /// How all parts of a kind stray.
    ResistorSpread,
    CapacitorSpread,
    OpAmpSpread,
    /// Parts of one package, by their number from 0.
    Network(usize),
    /// How one part of a stage strays, by its place in the netlist.
    PartSpread(usize, usize),
    View,
    /// A filter that may be put in the path.
    Filter,
    /// Pins of a stage, one a bought part in the netlist's order.
    Pins(usize),
    /// What the loop must keep.
    Loop,
    /// A shaft as a whole, and its places from left to right: segment by segment, disc by disc.
    Shaft,
    ShaftPlace(usize),
    /// How far a supply's lines are followed; and each of its converters.
    Supply,
    Converter(usize),
    /// The resonance on which advice is wanted.
    Advice,
    /// What a controller is wanted for.
    Shape,
    /// What controller and notches are wanted for together.
    Whole,
    /// What the closed loop is moved by.
    Motion,
    /// How far plants stray.
    Drift,
    /// What goes into the plant and comes out of it.
    Units,
    /// How a model is fitted to the sweep.
    Fit,
    /// What a model has besides its modes.
    Rigid,
    /// A mode of the model.
    Mode(usize),
}

const LOG: Step = Step::Along {
    series: Series::E24,
};

/// Values of resistors, Ω.
const RESISTORS: (f64, f64) = (0.01, 100e6);
/// Of capacitors, F.
const CAPACITORS: (f64, f64) = (0.1e-12, 1e-3);

/// Every field of this design with its group.
pub fn fields(design: &Design) -> Vec<(Group, Field)> {
    let mut all = Vec::new();
    about::about(&mut all, &design.about);
    for (index, stage) in design.stages.iter().enumerate() {
        let at = format!("/stages/{index}");
        ask(&mut all, &at, index, &stage.ask);
        all.push((Group::Limits(index), noise_limit(&at)));
        all.push((Group::Picks(index), prefer(&at)));
        all.push((Group::Picks(index), impedance(&at)));
        if let Some(circuit) = catalogued(&stage.circuit) {
            let given = circuit.grouping().given;
            between(&mut all, &at, index, given);
            for (place, part) in circuit.netlist().parts().iter().enumerate() {
                let Some(unit) =
                    Unit::of(part.kind).filter(|_| !given.iter().any(|(at, _)| *at == place))
                else {
                    continue;
                };
                let pin = pin(design, &at, &part.name, unit);
                all.push((Group::Pins(index), pin));
                spread::part(&mut all, design, (index, place), &part.name);
            }
        }
    }
    bin(&mut all, Group::Resistors, "/shelf/resistors", Unit::Ohm);
    bin(
        &mut all,
        Group::Capacitors,
        "/shelf/capacitors",
        Unit::Farad,
    );
    op_amps::op_amps(&mut all, design);
    board::board(&mut all, design);
    bench::bench(&mut all, design);
    spread::spread(&mut all, design);
    view(&mut all);
    filter::filter(&mut all, design);
    servo::servo(&mut all, design);
    if let Some(shaft) = &design.servo.shaft {
        shaft::shaft(&mut all, shaft);
    }
    if let Some(supply) = &design.servo.supply {
        supply::supply(&mut all, supply);
    }
    all
}

fn quantity(
    path: String,
    label: &str,
    unit: Unit,
    range: (f64, f64),
    step: Step,
    help: &'static str,
) -> Field {
    Field {
        path,
        label: label.to_owned(),
        kind: Kind::Quantity {
            unit,
            lowest: range.0,
            highest: range.1,
            step,
            empty: None,
            whole: false,
        },
        help,
    }
}

fn whole(mut field: Field) -> Field {
    if let Kind::Quantity { whole, .. } = &mut field.kind {
        *whole = true;
    }
    field
}

fn or_empty(mut field: Field, words: &'static str) -> Field {
    if let Kind::Quantity { empty, .. } = &mut field.kind {
        *empty = Some(words);
    }
    field
}

/// The fields of a stage's ask, as its family describes them.
fn ask(all: &mut Vec<(Group, Field)>, at: &str, index: usize, ask: &crate::stages::Ask) {
    let asked = ask.asked();
    for choice in asked.choices() {
        let field = Field {
            path: format!("{at}/ask/{}", choice.name),
            label: choice.label.to_owned(),
            kind: Kind::choice(choice.options),
            help: choice.help,
        };
        all.push((Group::Ask(index), field));
    }
    for entry in asked.entries() {
        let group = match entry.place {
            Place::Ask => Group::Ask(index),
            Place::Limits => Group::Limits(index),
        };
        let range = (entry.lowest, entry.highest);
        let path = format!("{at}/ask/{}", entry.name);
        let field = quantity(path, entry.label, entry.unit, range, entry.step, entry.help);
        let field = match entry.empty {
            Some(words) => or_empty(field, words),
            None => field,
        };
        all.push((group, field));
    }
}

/// What a circuit works between, where it feels it.
fn between(all: &mut Vec<(Group, Field)>, at: &str, index: usize, given: &[(usize, Given)]) {
    for (_, what) in given {
        let (name, label, help) = match what {
            Given::Source => ("source", "Source resistance", "Of what drives this stage."),
            Given::Load => ("load", "Load resistance", "Of what this stage drives."),
        };
        let path = format!("{at}/between/{name}");
        let range = (0.1, 100e6);
        let field = quantity(path, label, Unit::Ohm, range, LOG, help);
        all.push((Group::Ask(index), field));
    }
}

/// Values that a part of this unit may have.
fn values(unit: Unit) -> (f64, f64) {
    match unit {
        Unit::Farad => CAPACITORS,
        _ => RESISTORS,
    }
}

fn pin(design: &Design, at: &str, name: &str, unit: Unit) -> Field {
    let bin = match unit {
        Unit::Farad => &design.shelf.capacitors,
        _ => &design.shelf.resistors,
    };
    let step = Step::Along { series: bin.series };
    or_empty(
        quantity(
            format!("{at}/pins/{name}"),
            &format!("Fix {name}"),
            unit,
            values(unit),
            step,
            "Keeps this part at a value; the others are picked to suit it.",
        ),
        "",
    )
}

fn noise_limit(stage: &str) -> Field {
    or_empty(
        quantity(
            format!("{stage}/noise_limit"),
            "Output noise below",
            Unit::Volt,
            (1e-9, 10.0),
            LOG,
            "Largest rms noise of this stage at its output over the noise band; empty for any.",
        ),
        "any",
    )
}

fn impedance(stage: &str) -> Field {
    or_empty(
        quantity(
            format!("{stage}/impedance"),
            "Impedance level",
            Unit::Ohm,
            IMPEDANCES,
            LOG,
            "What resistors shall lie round, capacitors accordingly: lower is quieter and takes more current; empty for the usual 10 kΩ.",
        ),
        "as usual",
    )
}

fn prefer(stage: &str) -> Field {
    Field {
        path: format!("{stage}/prefer"),
        label: "Preference among equal sets".to_owned(),
        kind: Kind::choice(vec![
            ("balanced", "balanced"),
            ("few-values", "fewest values"),
            ("calm-impedance", "preferred value range"),
            ("centred", "best centred"),
        ]),
        help: "What counts most among sets of equal yield.",
    }
}

fn bin(all: &mut Vec<(Group, Field)>, group: Group, at: &str, unit: Unit) {
    let (smallest, largest) = values(unit);
    let what = if unit == Unit::Ohm {
        "resistor"
    } else {
        "capacitor"
    };
    let path = |name: &str| format!("{at}/{name}");
    let mut add = |field| all.push((group, field));
    add(Field {
        path: path("series"),
        label: format!("Series of {what}s"),
        kind: Kind::choice(
            Series::ALL
                .map(|series| (series.name(), series.name()))
                .into(),
        ),
        help: "Preferred values of IEC 60063.",
    });
    add(quantity(
        path("lowest"),
        &format!("Lowest {what}"),
        unit,
        (smallest, largest),
        LOG,
        "The smallest value bought.",
    ));
    add(quantity(
        path("highest"),
        &format!("Highest {what}"),
        unit,
        (smallest, largest),
        LOG,
        "The largest value bought.",
    ));
    add(quantity(
        path("tolerance"),
        &format!("Tolerance of {what}s ±"),
        Unit::Percent,
        TOLERANCES,
        LOG,
        "Largest deviation as delivered.",
    ));
    add(quantity(
        path("tempco"),
        &format!("Tempco of {what}s ±"),
        Unit::PpmPerKelvin,
        TEMPCOS,
        LOG,
        "Largest drift with temperature, either way.",
    ));
    add(Field {
        path: path("list"),
        label: format!(
            "{}s in stock",
            if unit == Unit::Ohm {
                "Resistor"
            } else {
                "Capacitor"
            }
        ),
        kind: Kind::List {
            unit,
            lowest: smallest,
            highest: largest,
        },
        help: "Paste values to pick from these only; empty to use the series.",
    });
}

/// A choice among these, each as it is saved and as it is shown.
fn choice(
    path: &str,
    label: &str,
    options: &[(&'static str, &'static str)],
    help: &'static str,
) -> Field {
    Field {
        path: path.to_owned(),
        label: label.to_owned(),
        kind: Kind::choice(options.to_vec()),
        help,
    }
}

fn view(all: &mut Vec<(Group, Field)>) {
    let mut add = |field| all.push((Group::View, field));
    add(quantity(
        "/view/phase_at".into(),
        "Phase read at",
        Unit::Hertz,
        FREQUENCIES,
        LOG,
        "The loop's crossover, for example: the phase that the stage costs there.",
    ));
    add(quantity(
        "/view/decades".into(),
        "Decades to each side",
        Unit::One,
        (0.2, 3.0),
        Step::By { amount: 0.1 },
        "How much of the curve is drawn.",
    ));
}
