use polewright::parts::{Bin, OpAmp, Shelf};
use polewright::pick::{Preference, Search};
use polewright::quantity::{Unit, rounded};
use polewright::stages::{Ask, Model, by_id};
use std::collections::BTreeMap;

fn show(id: &str, ask: &str, shelf: &Shelf, op: &OpAmp, n: usize) {
    let stage = by_id(id).unwrap();
    let mut j = serde_json::to_value(stage.default_ask()).unwrap();
    let p: serde_json::Value = serde_json::from_str(ask).unwrap();
    for (k, v) in p.as_object().unwrap() {
        j[k] = v.clone();
    }
    let ask: Ask = serde_json::from_value(j).unwrap();
    let model = Model::new(stage, &ask, op).unwrap();
    let mut s = Search::new(&model, shelf, &BTreeMap::new(), Preference::Balanced);
    s.advance(&model, &mut || true);
    let c = s.take();
    println!("{id} {p} {:?}", c.least.map(|l| l.0));
    for p in c.picks.iter().take(n) {
        let names: Vec<String> = model
            .netlist
            .parts()
            .iter()
            .zip(&p.values)
            .filter(|(q, _)| q.kind.unit().is_some())
            .map(|(q, v)| {
                format!(
                    "{} {}",
                    q.name,
                    rounded(*v, q.kind.unit().unwrap_or(Unit::One), 3)
                )
            })
            .collect();
        println!(
            "   miss {:.2} share {:.3} points {:.2} d{} s{:.2} st{:.2}  {}",
            p.rank.miss,
            p.rank.share,
            p.rank.points,
            p.rank.bother.distinct,
            p.rank.bother.spread,
            p.rank.bother.strain,
            names.join(", ")
        );
    }
}
fn main() {
    let op = OpAmp {
        gain_db: 110.0,
        gain_bandwidth: 5e6,
        output_resistance: 60.0,
    };
    let shelf = Shelf::default();
    for (id, ask) in [
        ("pd", r#"{"gain":6.86,"td":163e-6,"roll_off":17540}"#),
        ("differentiator", r#"{"unity":1225,"roll_off":43230}"#),
        ("lead", r#"{"gain":5.72,"zero":14030,"pole":131900}"#),
        ("sallen-key-low-pass", r#"{"frequency":21.7,"q":6.46}"#),
        (
            "mfb-low-pass",
            r#"{"frequency":193.5,"q":7.03,"gain":4.17}"#,
        ),
        ("mfb-all-pass", r#"{"frequency":20,"q":1.5}"#),
    ] {
        show(id, ask, &shelf, &op, 2);
    }
    let own = Shelf {
        resistors: Bin {
            list: Some(vec![1e3, 2.2e3, 4.7e3, 1e4, 2.2e4, 4.7e4, 1e5, 2.2e5]),
            ..Bin::resistors()
        },
        capacitors: Bin {
            list: Some(vec![1e-9, 4e-9, 1e-8, 1e-7]),
            ..Bin::capacitors()
        },
        ..Shelf::default()
    };
    show(
        "sallen-key-low-pass",
        r#"{"frequency":1591.5,"q":0.51}"#,
        &own,
        &op,
        3,
    );
    let op = OpAmp::default();
    for (id, ask) in [
        ("mfb-band-pass", r#"{"frequency":1000,"q":5,"gain":1}"#),
        ("mfb-band-pass", r#"{"frequency":5000,"q":0.707}"#),
        (
            "sallen-key-low-pass-gain",
            r#"{"frequency":3000,"q":2,"gain":1.5}"#,
        ),
        ("type-two-tee", "{}"),
        ("mfb-all-pass", "{}"),
        ("lead-lag", "{}"),
        ("mfb-notch", "{}"),
        ("mfb-notch", r#"{"frequency":60,"q":10}"#),
        ("sallen-key-low-pass", r#"{"frequency":1000,"q":0.707}"#),
        ("mfb-low-pass", r#"{"frequency":1000,"q":0.707,"gain":1}"#),
        ("sallen-key-high-pass", r#"{"frequency":1000,"q":0.707}"#),
        ("inverting-low-pass", r#"{"frequency":1000,"gain":1}"#),
        ("gain-inverting", "{}"),
        ("twin-t-notch", "{}"),
        ("pid-parallel", "{}"),
        ("sallen-key-band-pass", "{}"),
        ("state-variable-notch", "{}"),
        ("integrator", "{}"),
    ] {
        show(id, ask, &shelf, &op, 4);
    }
}
