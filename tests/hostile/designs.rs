//! Designs of any circuits with any entries.

use polewright::design::{
    AdviceAsk, Design, Kind, Network, ShapeAsk, StageDesign, Stop, WholeAsk, fields,
};
use polewright::feedback::{MotionAsk, Stimulus};
use polewright::plant::shaft::Shaft;
use polewright::plant::{Free, FreeMode, Mode, Model, Rigid, Start, sweep};
use polewright::solve_json;
use polewright::stages::CATALOGUE;
use polewright::supply::Supply;
use serde_json::{Map, Value, json};

use crate::numbers::Numbers;

/// What the entries of a design are drawn from.
#[derive(Clone, Copy, Debug)]
pub enum Manner {
    /// Anything: some entries in their ranges, some beyond, some of another type.
    Anything,
    /// Every entry in its range, most at one of its ends.
    Ends,
    /// Every part pinned, in its range.
    Pinned,
    /// A plant as a model, every entry in its range.
    Plants,
}

impl Manner {
    pub const ALL: [Manner; 4] = [
        Manner::Anything,
        Manner::Ends,
        Manner::Pinned,
        Manner::Plants,
    ];
}

/// A design as JSON.
pub fn draw(numbers: &mut Numbers, manner: Manner) -> Value {
    let design = frame(numbers, manner);
    let mut tree = serde_json::to_value(&design).expect("a design as JSON");
    let (share, pins) = match manner {
        Manner::Anything => (numbers.one_of(&[0.02, 0.1, 0.4]), 0.2),
        Manner::Ends => (0.8, numbers.one_of(&[0.0, 0.3])),
        Manner::Pinned => (numbers.one_of(&[0.0, 0.2]), 1.0),
        Manner::Plants => (numbers.one_of(&[0.1, 0.7]), 0.0),
    };
    for (_, field) in fields(&design) {
        let is_pin = field.path.contains("/pins/");
        let is_plain = ["/strays/", "/shelf/"]
            .iter()
            .any(|s| field.path.contains(s));
        let share = match is_pin {
            true => pins,
            // Most of them make a pick impossible or do nothing.
            false if is_plain && !matches!(manner, Manner::Anything) => 0.1 * share,
            false => share,
        };
        if numbers.chance(share) {
            let odd = matches!(manner, Manner::Anything) && numbers.chance(0.1);
            let value = if odd {
                odd_value(numbers)
            } else {
                value(numbers, &field.kind)
            };
            put(&mut tree, &field.path, value);
        }
    }
    if matches!(manner, Manner::Anything) {
        for _ in 0..numbers.below(3) {
            if let Some(place) = any_place(&tree, numbers) {
                put(&mut tree, &place, odd_value(numbers));
            }
        }
    }
    affordable(&mut tree, numbers);
    tree
}

/// Stages, plant and wishes, each as it is by default.
fn frame(numbers: &mut Numbers, manner: Manner) -> Design {
    let mut design = Design {
        stages: Vec::new(),
        ..Design::default()
    };
    for _ in 0..numbers.one_of(&[1, 1, 1, 1, 1, 1, 2, 2, 3, 0]) {
        let circuit = numbers.one_of(CATALOGUE);
        design.stages.push(StageDesign {
            circuit: circuit.id().to_owned(),
            ask: circuit.default_ask(),
            ..StageDesign::default()
        });
    }
    design.view.stage = numbers.below(design.stages.len());
    for _ in 0..numbers.below(3) {
        design.spread.networks.push(Network::default());
    }
    design.spread.stop = numbers.one_of(&[Stop::Fixed, Stop::Fixed, Stop::Stable]);
    let is_plant = match manner {
        Manner::Plants => true,
        Manner::Pinned => false,
        _ => numbers.chance(0.4),
    };
    if is_plant {
        plant(&mut design, numbers);
    }
    if numbers.chance(0.1) {
        design.servo.shaft = Some(Shaft::default());
    }
    if numbers.chance(0.1) {
        design.servo.supply = Some(Supply::default());
    }
    design
}

fn plant(design: &mut Design, numbers: &mut Numbers) {
    let servo = &mut design.servo;
    if numbers.chance(0.1) {
        servo.sweep = sweep::DEMO.to_owned();
        if numbers.chance(0.4) {
            let model = model(numbers);
            let free = free(numbers, model.modes.len());
            servo.fit.start = Some(Start { model, free });
        }
    } else {
        servo.model = Some(model(numbers));
    }
    motion(design, numbers);
}

fn model(numbers: &mut Numbers) -> Model {
    let mut model = Model {
        rigid: None,
        ..Model::default()
    };
    if numbers.chance(0.6) {
        model.rigid = Some(Rigid::new(numbers.below(3) as u32, 1.0));
    }
    for place in 0..numbers.below(5) {
        let frequency = 30.0 * 7f64.powi(place as i32);
        let omega = std::f64::consts::TAU * frequency;
        model.modes.push(Mode {
            frequency,
            damping: 0.02,
            residue: omega * omega,
            slope: 0.0,
        });
    }
    model
}

/// What may move in a model, seldom for as many modes as it has.
fn free(numbers: &mut Numbers, modes: usize) -> Free {
    let count = if numbers.chance(0.2) {
        numbers.below(7)
    } else {
        modes
    };
    let mut any = || numbers.chance(0.5);
    Free {
        gain: any(),
        friction: any(),
        lag: any(),
        delay: any(),
        modes: (0..count)
            .map(|_| FreeMode {
                frequency: any(),
                damping: any(),
                residue: any(),
                slope: any(),
            })
            .collect(),
    }
}

fn motion(design: &mut Design, numbers: &mut Numbers) {
    let servo = &mut design.servo;
    servo.motion = MotionAsk {
        stimulus: match numbers.below(4) {
            0 => Stimulus::Ramp,
            1 => Stimulus::Parabola,
            2 => Stimulus::Disturbance,
            _ => Stimulus::Step,
        },
        ..MotionAsk::default()
    };
    servo.advice = numbers.chance(0.15).then(AdviceAsk::default);
    servo.shape = numbers.chance(0.1).then(ShapeAsk::default);
    servo.whole = numbers.chance(0.05).then(WholeAsk::default);
}

/// A value in a field's range.
fn value(numbers: &mut Numbers, kind: &Kind) -> Value {
    match kind {
        Kind::Quantity {
            lowest,
            highest,
            empty,
            whole,
            ..
        } => {
            if empty.is_some() && numbers.chance(0.2) {
                return Value::Null;
            }
            let value = numbers.between(*lowest, *highest);
            if *whole {
                json!(value.round() as u64)
            } else {
                json!(value)
            }
        }
        Kind::Choice { options } => match &*options[numbers.below(options.len())].0 {
            "" => Value::Null,
            "true" => Value::Bool(true),
            "false" => Value::Bool(false),
            word => json!(word),
        },
        Kind::Text { longest, .. } => json!("µ".repeat(numbers.below(longest + 1))),
        Kind::List {
            lowest, highest, ..
        } => {
            if numbers.chance(0.3) {
                return Value::Null;
            }
            let count = numbers.one_of(&[1, 2, 3, 10, 300]);
            let list = (0..count).map(|_| numbers.between(*lowest, *highest));
            json!(list.collect::<Vec<f64>>())
        }
    }
}

/// A value that no entry was made for.
fn odd_value(numbers: &mut Numbers) -> Value {
    match numbers.below(16) {
        0 => Value::Null,
        1 => json!(0),
        2 => json!(-1),
        3 => json!(u64::MAX),
        4 => json!(i64::MIN),
        5 => json!(f64::MAX),
        6 => json!(f64::MIN_POSITIVE),
        7 => json!(-1e-300),
        8 => json!(u32::MAX),
        9 => json!("x".repeat(numbers.one_of(&[0, 1, 1000]))),
        10 => json!([]),
        11 => json!({}),
        12 => json!([null]),
        13 => Value::Bool(numbers.chance(0.5)),
        14 => json!(1.5),
        _ => json!(10f64.powf(600.0 * numbers.part() - 300.0)),
    }
}

/// Puts a value at a pointer, with objects made where there are none on the way.
fn put(tree: &mut Value, path: &str, value: Value) {
    let mut place = tree;
    for key in path.split('/').skip(1) {
        let key = key.replace("~1", "/").replace("~0", "~");
        if let Value::Array(list) = place {
            match key.parse::<usize>().ok().and_then(|at| list.get_mut(at)) {
                Some(item) => place = item,
                None => return,
            }
            continue;
        }
        if place.is_null() {
            *place = Value::Object(Map::new());
        }
        match place {
            Value::Object(map) => place = map.entry(key).or_insert(Value::Null),
            _ => return,
        }
    }
    *place = value;
}

/// A pointer to anything in a tree.
fn any_place(tree: &Value, numbers: &mut Numbers) -> Option<String> {
    let all = places(tree);
    (!all.is_empty()).then(|| all[numbers.below(all.len())].clone())
}

/// Pointers to all that a tree holds, a long list's first items alone.
pub fn places(tree: &Value) -> Vec<String> {
    fn walk(value: &Value, path: &str, found: &mut Vec<String>) {
        let mut see = |key: &str, child: &Value| {
            let path = format!("{path}/{}", key.replace('~', "~0").replace('/', "~1"));
            found.push(path.clone());
            walk(child, &path, found);
        };
        match value {
            Value::Object(map) => map.iter().for_each(|(key, child)| see(key, child)),
            Value::Array(list) => {
                for (at, child) in list.iter().take(5).enumerate() {
                    see(&at.to_string(), child);
                }
            }
            _ => {}
        }
    }
    let mut found = Vec::new();
    walk(tree, "", &mut found);
    found
}

/// Few boards, and seldom what takes many of them.
fn affordable(tree: &mut Value, numbers: &mut Numbers) {
    let boards = tree.pointer("/spread/boards").and_then(Value::as_f64);
    if boards.is_some_and(|boards| (100.0..=1e6).contains(&boards)) {
        put(tree, "/spread/boards", json!(100 + numbers.below(400)));
    }
    for (name, share) in [("compare", 0.03), ("blame", 0.1), ("propose", 0.1)] {
        let path = format!("/view/{name}");
        if tree.pointer(&path).is_some_and(Value::is_boolean) {
            put(tree, &path, Value::Bool(numbers.chance(share)));
        }
    }
}

/// What must hold of the answer to any text: it is an outcome, or errors that are sentences.
///
/// # Errors
/// What does not hold.
pub fn answered(design: &str) -> Result<(), String> {
    let answer = solve_json(design);
    let tree: Value = serde_json::from_str(&answer).map_err(|error| error.to_string())?;
    let Some(errors) = tree.get("errors") else {
        let is_outcome = tree["stages"].is_array() && tree["shown"].is_u64();
        return is_outcome
            .then_some(())
            .ok_or(format!("neither outcome nor errors: {answer:.200}"));
    };
    let errors = errors.as_array().ok_or("errors are no list")?;
    if errors.is_empty() {
        return Err("there is no error in the list of errors".to_owned());
    }
    for error in errors {
        let text = |name: &str| error[name].as_str().unwrap_or("(none)").to_owned();
        let (path, message) = (text("path"), text("message"));
        if !(path.is_empty() || path.starts_with('/')) || !message.ends_with('.') {
            return Err(format!("{path}: {message}"));
        }
    }
    Ok(())
}
