//! The order of picks against sets that handbooks give in worked examples: the first pick must be at least as good in
//! every respect that the order counts.
//!
//! The examples are told from memory: Mancini (ed.), "Op Amps for Everyone", ch. 16; Franco, "Design with Operational
//! Amplifiers and Analog Integrated Circuits", ch. 3; Zumbahlen, "Linear Circuit Design Handbook", ch. 8; Ogata,
//! "Modern Control Engineering", ch. 3. Where a book's value is none of the shelf's series the nearest one stands.

use std::collections::BTreeMap;
use std::f64::consts::FRAC_1_SQRT_2;

use polewright::parts::{OpAmp, Series, Shelf};
use polewright::pick::{Judge, Preference, Rank, STEP, Search, Weights, rank};
use polewright::stages::{Ask, Model, Scratch, by_id};
use serde_json::{Value, json};

/// A circuit, what is asked of it, and the set that a book gives, by designator.
type Example = (
    &'static str,
    &'static str,
    Value,
    &'static [(&'static str, f64)],
);

fn examples() -> Vec<Example> {
    vec![
        (
            "Mancini 16.3.1: first order, unity gain, 1 kHz",
            "follower-low-pass",
            json!({ "frequency": 1e3 }),
            &[("R1", 3.4e3), ("C1", 47e-9)],
        ),
        (
            "Mancini 16.3.2: Chebyshev of 3 dB, 3 kHz, unity gain",
            "sallen-key-low-pass",
            json!({ "frequency": 2159.0, "q": 1.3049 }),
            &[("R1", 1.27e3), ("R2", 1.3e3), ("C1", 150e-9), ("C2", 22e-9)],
        ),
        (
            "Mancini 16.3.3: second pair of a fifth-order Butterworth, 50 kHz",
            "sallen-key-low-pass",
            json!({ "frequency": 50e3, "q": 0.618 }),
            &[
                ("R1", 1.87e3),
                ("R2", 4.42e3),
                ("C1", 1.5e-9),
                ("C2", 820e-12),
            ],
        ),
        (
            "Mancini 16.3.3: third pair of it",
            "sallen-key-low-pass",
            json!({ "frequency": 50e3, "q": 1.618 }),
            &[
                ("R1", 1.47e3),
                ("R2", 4.53e3),
                ("C1", 4.7e-9),
                ("C2", 330e-12),
            ],
        ),
        (
            "Mancini 16.4.2: pair of a third-order Bessel high-pass, 1 kHz",
            "sallen-key-high-pass",
            json!({ "frequency": 1e3 / 0.6911, "q": 0.691 }),
            &[("C1", 100e-9), ("C2", 100e-9), ("R1", 787.0), ("R2", 1.5e3)],
        ),
        (
            "Mancini 16.5.1: multiple-feedback band-pass, 1 kHz, Q 10, gain 2",
            "mfb-band-pass",
            json!({ "frequency": 1e3, "q": 10.0, "gain": 2.0 }),
            &[
                ("R1", 7.87e3),
                ("R2", 80.6),
                ("R3", 31.6e3),
                ("C1", 100e-9),
                ("C2", 100e-9),
            ],
        ),
        (
            "Franco 3.4: unity-gain low-pass, 10 kHz, Q 2",
            "sallen-key-low-pass",
            json!({ "frequency": 10e3, "q": 2.0 }),
            &[("R1", 2.49e3), ("R2", 5.11e3), ("C1", 22e-9), ("C2", 1e-9)],
        ),
        (
            "Franco 3.4: low-pass with equal parts, 1 kHz, Q 5",
            "sallen-key-low-pass-gain",
            json!({ "frequency": 1e3, "q": 5.0, "gain": 2.8 }),
            &[
                ("R1", 15.8e3),
                ("R2", 15.8e3),
                ("C1", 10e-9),
                ("C2", 10e-9),
                ("R3", 10e3),
                ("R4", 17.8e3),
            ],
        ),
        (
            "Franco 3.5: multiple-feedback band-pass, 1 kHz, Q 10, gain 10",
            "mfb-band-pass",
            json!({ "frequency": 1e3, "q": 10.0, "gain": 10.0 }),
            &[
                ("R1", 15.8e3),
                ("R2", 845.0),
                ("R3", 316e3),
                ("C1", 10e-9),
                ("C2", 10e-9),
            ],
        ),
        (
            "Common practice: multiple-feedback band-pass, 1 kHz, Q 5, equal capacitors",
            "mfb-band-pass",
            json!({ "frequency": 1e3, "q": 5.0, "gain": 1.0 }),
            &[
                ("R1", 78.7e3),
                ("R2", 1.62e3),
                ("R3", 158e3),
                ("C1", 10e-9),
                ("C2", 10e-9),
            ],
        ),
        (
            "Common practice: multiple-feedback band-pass, 5 kHz, Q 0.707",
            "mfb-band-pass",
            json!({ "frequency": 5e3, "q": 0.707, "gain": 1.0 }),
            &[
                ("R1", 10.2e3),
                ("R2", 18.2e3),
                ("R3", 15e3),
                ("C1", 2.2e-9),
                ("C2", 4.7e-9),
            ],
        ),
        (
            "Franco 3.5: multiple-feedback low-pass, 10 kHz, Q 4, gain 2",
            "mfb-low-pass",
            json!({ "frequency": 10e3, "q": 4.0, "gain": 2.0 }),
            &[
                ("R1", 5.9e3),
                ("R2", 11.8e3),
                ("R3", 590.0),
                ("C1", 150e-9),
                ("C2", 220e-12),
            ],
        ),
        (
            "Zumbahlen 8: multiple-feedback low-pass, 1 kHz, Butterworth",
            "mfb-low-pass",
            json!({ "frequency": 1e3, "q": FRAC_1_SQRT_2, "gain": 1.0 }),
            &[
                ("R1", 22.6e3),
                ("R2", 22.6e3),
                ("R3", 22.6e3),
                ("C1", 15e-9),
                ("C2", 3.3e-9),
            ],
        ),
        (
            "Zumbahlen 8: unity-gain high-pass, 1 kHz, Butterworth",
            "sallen-key-high-pass",
            json!({ "frequency": 1e3, "q": FRAC_1_SQRT_2 }),
            &[("C1", 10e-9), ("C2", 10e-9), ("R1", 11.3e3), ("R2", 22.6e3)],
        ),
        (
            "Zumbahlen 8: twin-T notch with feedback, 1 kHz",
            "twin-t-notch",
            json!({ "frequency": 1e3, "q": 2.0 }),
            &[
                ("R1", 15.8e3),
                ("R2", 15.8e3),
                ("R3", 15.8e3),
                ("R4", 15.8e3),
                ("C1", 10e-9),
                ("C2", 10e-9),
                ("C3", 10e-9),
                ("C4", 10e-9),
                ("R5", 1.15e3),
                ("R6", 8.06e3),
            ],
        ),
        (
            "Common practice: inverting amplifier of 10",
            "gain-inverting",
            json!({ "gain": 10.0 }),
            &[("R1", 10e3), ("R2", 100e3)],
        ),
        (
            "Common practice: non-inverting amplifier of 2",
            "gain-non-inverting",
            json!({ "gain": 2.0 }),
            &[("R1", 10e3), ("R2", 10e3)],
        ),
        (
            "Common practice: difference amplifier of 1",
            "difference",
            json!({ "gain": 1.0 }),
            &[("R1", 10e3), ("R2", 10e3), ("R3", 10e3), ("R4", 10e3)],
        ),
        (
            "Mancini 16.3: first-order inverting low-pass, 1 kHz",
            "inverting-low-pass",
            json!({ "frequency": 1e3, "gain": 1.0 }),
            &[("R1", 15.8e3), ("R2", 15.8e3), ("C1", 10e-9)],
        ),
        (
            "Mancini 16.7: first-order all-pass, 1 kHz",
            "all-pass-1",
            json!({ "frequency": 1e3 }),
            &[("R1", 10e3), ("R2", 10e3), ("R3", 15.8e3), ("C1", 10e-9)],
        ),
        (
            "Zumbahlen 8: state-variable notch, 1 kHz, Q 2",
            "state-variable-notch",
            json!({ "frequency": 1e3, "q": 2.0 }),
            &[
                ("R1", 10e3),
                ("R2", 10e3),
                ("R3", 10e3),
                ("R4", 49.9e3),
                ("R5", 10e3),
                ("R6", 15.8e3),
                ("R7", 15.8e3),
                ("C1", 10e-9),
                ("C2", 10e-9),
                ("R8", 10e3),
                ("R9", 10e3),
                ("R10", 10e3),
            ],
        ),
    ]
}

fn model(id: &str, changes: &Value) -> Model {
    let stage = by_id(id).expect("the stage");
    let mut ask = serde_json::to_value(stage.default_ask()).expect("an ask as JSON");
    for (name, value) in changes.as_object().expect("an object") {
        assert!(ask.get(name).is_some(), "{id} has no {name}");
        ask[name] = value.clone();
    }
    let ask: Ask = serde_json::from_value(ask).expect("an ask from JSON");
    Model::new(stage, &ask, &OpAmp::default()).expect("a circuit")
}

/// With capacitors of E12, from which the books take theirs.
fn shelf() -> Shelf {
    let mut shelf = Shelf::default();
    shelf.capacitors.series = Series::E12;
    shelf.capacitors.highest = 220e-9;
    shelf
}

#[test]
fn the_first_pick_is_as_good_as_the_handbooks() {
    let shelf = shelf();
    let weights = Weights::of(Preference::Balanced);
    let mut worse = Vec::new();
    for (source, id, changes, set) in examples() {
        let model = model(id, &changes);
        let mut values = vec![0.0; model.netlist.parts().len()];
        for (name, value) in set {
            let at = model.netlist.position(name);
            values[at.unwrap_or_else(|| panic!("{source}: no {name}"))] = *value;
        }
        let judge = Judge::new(&model, &shelf);
        let by = (&judge, &weights);
        let book = rank(&model, by, &values, None, &mut Scratch::default());
        let mut search = Search::new(&model, &shelf, &BTreeMap::new(), Preference::Balanced);
        assert!(search.advance(&model, &mut || true).is_ready());
        let first = search.take().picks.swap_remove(0);
        println!(
            "{source}\n  book  {book:?}\n  first {:?} {:?}",
            first.rank, first.values
        );
        assert!(first.rank.holds(), "{source}: {first:?}");
        let as_good = |book: &Rank| {
            let (mine, theirs) = (&first.rank.bother, &book.bother);
            first.rank.share >= book.share - STEP
                && mine.distinct <= theirs.distinct
                && mine.spread <= theirs.spread + 0.2
                && mine.strain <= theirs.strain + 0.3
        };
        // A book's set that uses up most of the limits before any part strays is no yardstick.
        if book.is_some_and(|book| book.miss < 0.75 && !as_good(&book)) {
            worse.push(source);
        }
    }
    assert!(worse.is_empty(), "{worse:#?}");
}
