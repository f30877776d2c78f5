//! What the user asked for: plain data, and the only thing saved, shared and restored.

mod about;
mod bench;
mod board;
mod check;
mod drift;
mod error;
mod field;
mod fields;
mod filter;
mod help;
pub mod later;
mod limits;
mod moved;
mod op_amps;
mod servo;
mod spread;
mod tree;
mod whole;

pub use crate::plant::{PlantUnits, in_unit, labelled, with_unit};
pub use about::{About, LogEntry};
pub use bench::{BenchDesign, Measured, TrimmerDesign};
pub use board::{Conditions, Enters, NoiseBand, Signal, SignalPoint};
pub use check::{check, check_after};
pub use error::InputError;
pub use field::{Field, Kind, Step};
pub use fields::{Group, fields};
pub use filter::{FilterBand, FilterDesign, FilterPlan};
pub use help::{AdviceAsk, ShapeAsk, ShapeForm};
pub use limits::{IMPEDANCES, MOST_STAGES};
pub use moved::moved;
pub use op_amps::MOST_OP_AMPS;
pub use servo::{Drift, LoopAsk, ServoDesign, Summing};
pub use spread::{KindSpread, Network, OpAmpSpread, PartSpread, SpreadDesign, Stop};
pub use whole::{WholeAsk, WholeForm};

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::json;
use crate::parts::{DataSheet, Shelf};
use crate::pick::Preference;
use crate::stages::{Ask, CATALOGUED, Surroundings};

/// Everything that decides an [`crate::outcome::Outcome`]. JSON may leave out what is as by default:
/// `{}` is the demo.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Design {
    /// Layout of this data: [`VERSION`]. Earlier ones are read, and are of this one then.
    pub version: u32,
    /// What it is for.
    #[serde(skip_serializing_if = "About::is_empty")]
    pub about: About,
    /// The path: stages in signal order.
    pub stages: Vec<StageDesign>,
    pub shelf: Shelf,
    /// The usual op amp: of all stages that name no other.
    pub op_amp: DataSheet,
    /// Others, which stages name.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub op_amps: Vec<DataSheet>,
    /// Rails and temperature.
    pub conditions: Conditions,
    /// The band over which noise is added up.
    pub noise: NoiseBand,
    /// The largest signal.
    pub signal: Signal,
    pub spread: SpreadDesign,
    pub view: View,
    /// A filter that may be put in the path.
    pub filter: FilterDesign,
    /// The plant that the path drives, and the loop round both.
    pub servo: ServoDesign,
    /// What was measured of the built board.
    pub bench: BenchDesign,
}

/// One stage of the path.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct StageDesign {
    /// Identifier in the catalogue.
    pub circuit: String,
    pub ask: Ask,
    pub between: Surroundings,
    /// Parts that keep a value (SI), by designator.
    pub pins: BTreeMap<String, f64>,
    /// Parts that stray in a way of their own, by designator.
    #[serde(rename = "strays", skip_serializing_if = "BTreeMap::is_empty")]
    pub variations: BTreeMap<String, PartSpread>,
    /// The op amp of the list that it has; none for the usual one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub op_amp: Option<String>,
    /// Its op amps that are others, by designator.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub op_amps: BTreeMap<String, String>,
    /// Largest noise at its output over the design's band, V rms; none where it does not matter.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub noise_limit: Option<f64>,
    /// What its resistors shall lie round, Ω; none where comfort decides.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub impedance: Option<f64>,
    /// What counts for most among sets whose boards do as well.
    pub prefer: Preference,
    /// The response that was measured of it, as [`crate::plant::sweep::write`] writes it; "" where there is none.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub measured: String,
    /// A trimmer that the built board has in it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trimmer: Option<TrimmerDesign>,
    /// Which pick is taken: 0 is the best, 1 to 12 the next-best.
    pub choice: usize,
    /// Whether help with the loop as a whole put it in and nobody has changed it since: then that help may take it
    /// out again.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub by_whole: bool,
}

impl StageDesign {
    /// Without what does not decide its picks: which one is taken, how parts stray, whose it is, and what its op amps are
    /// called.
    pub fn of_picks(&self) -> StageDesign {
        StageDesign {
            choice: 0,
            variations: BTreeMap::new(),
            op_amp: None,
            op_amps: BTreeMap::new(),
            by_whole: false,
            ..self.without_bench()
        }
    }

    /// Without what was measured of it.
    pub fn without_bench(&self) -> StageDesign {
        StageDesign {
            measured: String::new(),
            trimmer: None,
            ..self.clone()
        }
    }
}

/// What the curves show.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct View {
    /// Decades drawn to each side of the asked frequency.
    pub decades: f64,
    /// The phase is read here, Hz.
    pub phase_at: f64,
    /// Which stage of the path is shown, from 0.
    pub stage: usize,
    /// Whether other circuits for the shown stage's ask are worked out too.
    pub compare: bool,
    /// Whether the shown stage's worst case is worked out too, and the variance contributions of
    /// what strays. Saved designs call it `blame`.
    #[serde(rename = "blame")]
    pub contributions: bool,
    /// Whether it is worked out what would change the yield.
    pub propose: bool,
}

/// A value at a place in the design.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Edit {
    /// JSON pointer.
    pub path: String,
    #[serde(with = "crate::tagged")]
    pub value: Value,
}

/// The layout of the data that this program reads and writes.
///
/// 1: the first. 2: [`Design::about`]. 3: op amps by their data sheets, and what a board works with.
pub const VERSION: u32 = 3;

impl Default for Design {
    fn default() -> Design {
        Design {
            version: VERSION,
            about: About::default(),
            stages: vec![StageDesign::default()],
            shelf: Shelf::default(),
            op_amp: DataSheet::default(),
            op_amps: Vec::new(),
            conditions: Conditions::default(),
            noise: NoiseBand::default(),
            signal: Signal::default(),
            spread: SpreadDesign::default(),
            view: View::default(),
            filter: FilterDesign::default(),
            servo: ServoDesign::default(),
            bench: BenchDesign::default(),
        }
    }
}

impl Default for StageDesign {
    fn default() -> StageDesign {
        StageDesign {
            circuit: CATALOGUED[0].id().to_owned(),
            ask: CATALOGUED[0].default_ask(),
            between: Surroundings::default(),
            pins: BTreeMap::new(),
            variations: BTreeMap::new(),
            op_amp: None,
            op_amps: BTreeMap::new(),
            noise_limit: None,
            impedance: None,
            prefer: Preference::default(),
            measured: String::new(),
            trimmer: None,
            choice: 0,
            by_whole: false,
        }
    }
}

impl Default for View {
    fn default() -> View {
        View {
            decades: 1.0,
            phase_at: 420.0,
            stage: 0,
            compare: true,
            propose: true,
            contributions: true,
        }
    }
}

impl Design {
    /// An empty path and no plant: what stands for all of a design that is not read.
    pub fn blank() -> Design {
        Design {
            stages: Vec::new(),
            ..Design::default()
        }
    }

    /// A design from its JSON text.
    ///
    /// # Errors
    /// Where the text is no JSON, or as [`Design::from_tree`].
    pub fn from_json(text: &str) -> Result<Design, Vec<InputError>> {
        // Some editors put a byte order mark first.
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let tree = json::read(text).map_err(|error| {
            vec![InputError::new(
                "",
                format!("This is not a design: {error}."),
            )]
        })?;
        Design::from_tree(tree)
    }

    /// The design that a JSON tree holds.
    ///
    /// Text is read into a tree first and then into a design, everywhere: a design's many kinds of asks are
    /// then read in one way only, which keeps the page small.
    ///
    /// # Errors
    /// All that does not belong there, each with its place and what is accepted.
    pub fn from_tree(mut tree: Value) -> Result<Design, Vec<InputError>> {
        if !tree.is_object() || tree::is_later(&tree) {
            return Err(tree::misfits(tree));
        }
        bring_up(&mut tree);
        match Design::deserialize(&tree) {
            Ok(design) => Ok(design),
            Err(_) => Err(tree::misfits(tree)),
        }
    }

    /// This design with several values changed, one after the other, as [`Design::with`] does it.
    ///
    /// # Errors
    /// As there.
    pub fn edited(&self, edits: &[Edit]) -> Result<Design, String> {
        edits.iter().try_fold(self.clone(), |design, edit| {
            design.with(&edit.path, edit.value.clone())
        })
    }

    /// This design with another value at a JSON pointer (RFC 6901). `null` takes an optional value away.
    ///
    /// A change that asks for other parts goes back to the best pick.
    ///
    /// # Errors
    /// A sentence, when there is no such place or it takes no such value.
    pub fn with(&self, path: &str, value: Value) -> Result<Design, String> {
        if let Some((stage, name)) = ask_part(path)
            && let Some(now) = self.stages.get(stage)
            && let Some(taken) = value.as_str()
            && now.ask.asked().choices().iter().any(|c| c.name == name)
        {
            // Another notation rewrites its neighbours.
            let mut design = self.clone();
            design.stages[stage].ask = now.ask.choose(name, taken)?;
            design.stages[stage].by_whole = false;
            return Ok(design);
        }
        let mut tree = serde_json::to_value(self).map_err(|e| e.to_string())?;
        make_room(&mut tree, path);
        let (parent, key) = path.rsplit_once('/').ok_or("a path starts with “/”")?;
        let parent = tree
            .pointer_mut(parent)
            .ok_or_else(|| format!("there is no “{path}” in a design"))?;
        match parent {
            Value::Object(map) if value.is_null() && !map.contains_key(key) => {}
            Value::Object(map)
                if value.is_null()
                    && (["/pins/", "/levels_db/", "/op_amps/"].iter())
                        .any(|of| path.contains(of)) =>
            {
                map.remove(key);
            }
            Value::Object(map) => {
                map.insert(key.to_owned(), value);
            }
            Value::Array(list) => {
                let place = key.parse::<usize>().ok();
                let item = place.and_then(|place| list.get_mut(place));
                *item.ok_or_else(|| format!("there is no “{path}” in a design"))? = value;
            }
            _ => return Err(format!("“{path}” cannot be changed on its own")),
        }
        let mut design = Design::from_tree(tree).map_err(|errors| tree::told(&errors))?;
        if let Some(place) = renamed(path)
            && let (Some(before), Some(after)) =
                (self.op_amps.get(place), design.op_amps.get(place))
        {
            op_amps::rename(&mut design.stages, &before.name, Some(&after.name));
        }
        for stage in &mut design.stages {
            stage.variations.retain(|_, part| !part.is_empty());
        }
        // What is changed by hand is the user's.
        if let Some(stage) = stage_part(path)
            && key != "by_whole"
            && let Some(stage) = design.stages.get_mut(stage)
        {
            stage.by_whole = false;
        }
        if key != "choice" {
            self.forget_choices(&mut design);
        }
        Ok(design)
    }

    /// Goes back to the best pick wherever `changed` asks for other parts than this design does: nothing else
    /// decides which parts are listed, and a choice is a place in that list.
    fn forget_choices(&self, changed: &mut Design) {
        let is_same_shelf = (self.shelf.resistors).sells_the_same(&changed.shelf.resistors)
            && (self.shelf.capacitors).sells_the_same(&changed.shelf.capacitors);
        for index in 0..changed.stages.len() {
            let stage = &changed.stages[index];
            let is_same = self.stages.get(index).is_some_and(|before| {
                let op_amps = self.op_amps_of(before) == changed.op_amps_of(stage);
                op_amps && before.asks_the_same(stage)
            });
            if !is_same_shelf || !is_same {
                changed.stages[index].choice = 0;
            }
        }
    }
}

impl StageDesign {
    /// Whether the same parts are looked for, off the same shelf with the same op amp.
    fn asks_the_same(&self, other: &StageDesign) -> bool {
        self.circuit == other.circuit
            && self.ask == other.ask
            && self.between == other.between
            && self.prefer == other.prefer
            && self.pins == other.pins
            && self.noise_limit == other.noise_limit
            && self.impedance == other.impedance
    }
}

/// Makes a design of an earlier version one of this: nothing of it is called otherwise now.
fn bring_up(tree: &mut Value) {
    let version = tree.get("version").and_then(Value::as_u64);
    if version.is_some_and(|version| (1..u64::from(VERSION)).contains(&version)) {
        tree["version"] = Value::from(VERSION);
    }
}

/// Makes a place for how one part strays, for one mode's level, or for words, which stand in a design only where they say
/// something.
fn make_room(tree: &mut Value, path: &str) {
    if path.starts_with("/about/")
        && let Some(design) = tree.as_object_mut()
    {
        design
            .entry("about")
            .or_insert_with(|| Value::Object(Map::new()));
    }
    if path.starts_with("/servo/whole/levels_db/")
        && let Some(whole) = tree
            .pointer_mut("/servo/whole")
            .and_then(Value::as_object_mut)
    {
        whole
            .entry("levels_db")
            .or_insert_with(|| Value::Object(Map::new()));
    }
    if let Some((stage, _)) = path.split_once("/op_amps/")
        && let Some(stage) = tree.pointer_mut(stage).and_then(Value::as_object_mut)
        && path.starts_with("/stages/")
    {
        stage
            .entry("op_amps")
            .or_insert_with(|| Value::Object(Map::new()));
    }
    let Some((stage, rest)) = path.split_once("/strays/") else {
        return;
    };
    let Some((part, _)) = rest.split_once('/') else {
        return;
    };
    if let Some(stage) = tree.pointer_mut(stage).and_then(Value::as_object_mut) {
        let variations = stage
            .entry("strays")
            .or_insert_with(|| Value::Object(Map::new()));
        if let Some(variations) = variations.as_object_mut() {
            let empty = || Value::Object(Map::new());
            variations.entry(part).or_insert_with(empty);
        }
    }
}

/// The op amp of the list whose name a path leads to.
fn renamed(path: &str) -> Option<usize> {
    let place = path.strip_prefix("/op_amps/")?.strip_suffix("/name")?;
    place.parse().ok()
}

/// The stage that a path leads into.
fn stage_part(path: &str) -> Option<usize> {
    let rest = path.strip_prefix("/stages/")?;
    rest.split('/').next()?.parse().ok()
}

/// The stage and the name within its ask that a path leads to.
fn ask_part(path: &str) -> Option<(usize, &str)> {
    let (stage, name) = path.strip_prefix("/stages/")?.split_once("/ask/")?;
    Some((stage.parse().ok()?, name))
}
