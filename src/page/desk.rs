//! The page's state: one design, what was typed, and the last results.

use std::sync::Arc;

use crate::page::prelude::*;
use serde_json::Value;

use super::begin::Emptied;
use super::drafts::Texts;
use super::fragment;
use super::notice::Notice;
use super::servo::motion::word;
use super::sheet::Written;
use super::trouble::Trouble;
use crate::design::{
    Design, Field, Group, InputError, PlantUnits, ServoDesign, ShapeForm, Stop, WholeForm, fields,
};
use crate::exchange::BoardsSoFar;
use crate::export::What;
use crate::json;
use crate::outcome::{
    BenchOutcome, BetterOutcome, BoardOutcome, ContributionsOutcome, CornersOutcome,
    DemandsOutcome, FilterOutcome, HelpOutcome, LoopSpread, MotionOutcome, NoiseOutcome,
    OtherOutcome, PathOutcome, ProposalsOutcome, ServoOutcome, ShaftOutcome, SpreadOutcome,
    StageOutcome, SupplyOutcome,
};
use crate::plant::SweptOf;
use crate::spread::Law;

/// What decides which inputs the page has.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Form {
    /// The shown stage's place in the path.
    pub stage: usize,
    /// The circuits of all stages.
    pub circuits: Vec<String>,
    /// Names of the shown ask's entries.
    entries: Vec<&'static str>,
    pub plant: PlantForm,
    pub spread: SpreadForm,
    /// A shaft's kind and how many places it has.
    pub shaft: Option<(&'static str, usize)>,
    /// For each converter of a supply whether it has bursts and spread spectrum.
    pub supply: Vec<(bool, bool)>,
    /// Names of the op amps of the list.
    pub op_amps: Vec<String>,
    /// Points of the largest signal.
    pub signal: usize,
}

/// What decides which inputs the Loop region has.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlantForm {
    /// Points of the sweep, 0 without one.
    pub points: usize,
    /// The first and the last one's frequencies, Hz.
    pub span: Option<(f64, f64)>,
    /// Measured rows that these points stand for, where they are more.
    pub rows: Option<u32>,
    /// What the plant was worked out from.
    pub swept_of: Option<SweptOf>,
    /// Modes of a model that is used as it stands.
    pub modes: Option<usize>,
    /// What the labels of its rigid part hang on.
    integrators: Option<u32>,
    /// Units stand in labels, and so does what the loop is moved by.
    pub units: PlantUnits,
    stimulus: &'static str,
    /// Whether a fit starts from a model.
    has_start: bool,
    /// The mode on which advice is asked, and which controller is.
    pub advises: Option<usize>,
    pub shapes: Option<ShapeForm>,
    /// What decides the fields of the loop as a whole: its controller, and whether a roll-off is wished.
    pub whole: Option<(WholeForm, bool)>,
}

/// What decides which inputs the Spread region has.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SpreadForm {
    stops_by_itself: bool,
    /// Which laws have sigmas: resistors', capacitors', op amps', and of the shown stage's own parts.
    normal: (bool, bool, bool),
    own: Vec<String>,
    pub networks: usize,
}

impl SpreadForm {
    fn of(design: &Design) -> SpreadForm {
        let spread = &design.spread;
        let normal = |law| law == Law::Normal;
        let own = design.stages.get(design.view.stage).map(|stage| {
            let with_sigmas = stage
                .variations
                .iter()
                .filter(|(_, part)| part.law == Some(Law::Normal) || part.sigmas.is_some());
            with_sigmas.map(|(name, _)| name.clone()).collect()
        });
        SpreadForm {
            stops_by_itself: spread.stop == Stop::Stable,
            normal: (
                normal(spread.resistors.law),
                normal(spread.capacitors.law),
                normal(spread.op_amps.law),
            ),
            own: own.unwrap_or_default(),
            networks: spread.networks.len(),
        }
    }
}

impl PlantForm {
    fn of(servo: &ServoDesign) -> PlantForm {
        let ends = servo.ends();
        PlantForm {
            points: ends.map_or(0, |(points, ..)| points),
            span: ends.map(|(_, low, high)| (low, high)),
            rows: servo.rows,
            swept_of: servo.swept_of,
            modes: servo.model.as_ref().map(|model| model.modes.len()),
            integrators: servo
                .model
                .as_ref()
                .and_then(|m| m.rigid)
                .map(|r| r.integrators),
            units: servo.units.clone(),
            stimulus: word(&servo.motion.stimulus),
            has_start: servo.fit.start.is_some(),
            advises: servo.advice.map(|advice| advice.mode),
            shapes: servo.shape.map(|ask| ask.form),
            whole: servo
                .whole
                .as_ref()
                .map(|ask| (ask.form, ask.quiet_from.is_some())),
        }
    }

    /// Whether there is a plant at all.
    pub fn is_there(&self) -> bool {
        self.points > 0 || self.modes.is_some()
    }
}

impl Form {
    fn of(design: &Design) -> Form {
        let stage = design.view.stage;
        let entries = design.stages.get(stage).map_or_else(Vec::new, |shown| {
            let entries = shown.ask.asked().entries();
            entries.into_iter().map(|entry| entry.name).collect()
        });
        Form {
            stage,
            circuits: design.stages.iter().map(|s| s.circuit.clone()).collect(),
            entries,
            plant: PlantForm::of(&design.servo),
            spread: SpreadForm::of(design),
            op_amps: design.op_amps.iter().map(|own| own.name.clone()).collect(),
            signal: design.signal.points.len(),
            shaft: design.servo.shaft.as_ref().map(|shaft| shaft.kind()),
            supply: design
                .servo
                .supply
                .as_ref()
                .map_or_else(Vec::new, |supply| {
                    let toggles = supply.converters.iter();
                    toggles
                        .map(|c| (c.burst.is_some(), c.spread.is_some()))
                        .collect()
                }),
        }
    }
}

/// Everything on the page hangs on these signals.
#[derive(Clone, Copy)]
pub struct Desk {
    pub design: Held<Design>,
    /// The design as a tree, in which fields have their paths.
    pub tree: Derived<Arc<Value>>,
    /// That tree as JSON, for the worker and for links.
    pub text: Derived<Arc<str>>,
    /// What was typed into a field and is not yet shown in its final form, by path.
    pub drafts: Held<Texts>,
    /// Why a draft cannot be read, by path.
    pub unread: Held<Texts>,
    /// What the design held at a field before it was typed into, as JSON.
    pub begun: Held<Texts>,
    /// What is wrong with the design that was read.
    pub refused: Held<Vec<InputError>>,
    /// Which inputs there are: they are built anew when this changes.
    pub form: Derived<Form>,
    /// The last good parts and figures of all stages.
    pub stages: Held<Vec<Arc<StageOutcome>>>,
    /// Of the shown one, with its curves.
    pub stage: Held<Option<Arc<StageOutcome>>>,
    /// Advice that was asked for.
    pub help: Held<Option<Arc<HelpOutcome>>>,
    /// The closed loop in time.
    pub motion: Held<Option<Arc<MotionOutcome>>>,
    /// What the filter that is asked as a whole takes.
    pub filter: Held<Option<Arc<FilterOutcome>>>,
    /// The last good shaft.
    pub shaft: Held<Option<Arc<ShaftOutcome>>>,
    /// The last good lines of a supply.
    pub supply: Held<Option<Arc<SupplyOutcome>>>,
    /// What the bench finds.
    pub bench: Held<Option<Arc<BenchOutcome>>>,
    /// The last good demands on op amps.
    pub demands: Held<Option<Arc<DemandsOutcome>>>,
    /// The last good noise of the path's parts.
    pub noise: Held<Option<Arc<NoiseOutcome>>>,
    /// The last good loop; none without a plant.
    pub servo: Held<Option<Arc<ServoOutcome>>>,
    /// The loop over boards and plants, which comes later.
    pub loops: Held<Option<Arc<LoopSpread>>>,
    /// The last good path.
    pub path: Held<Option<Arc<PathOutcome>>>,
    /// Other circuits for the shown stage's ask.
    pub others: Held<Vec<Arc<OtherOutcome>>>,
    /// One of them that suits the ask better than the circuit that is taken.
    pub better: Held<Option<BetterOutcome>>,
    /// Whether they are all there and belong to what is typed.
    pub others_are_current: Held<bool>,
    /// Whether the bench has looked at what is measured now.
    pub bench_is_current: Held<bool>,
    /// The last good spread.
    pub spread: Held<Option<Arc<SpreadOutcome>>>,
    /// What would change the yield, and whether that belongs to what is typed.
    pub proposals: Held<Option<Arc<ProposalsOutcome>>>,
    pub proposals_are_current: Held<bool>,
    /// The last worst case of the shown circuit, and the variance contributions of what strays.
    pub corners: Held<Option<Arc<CornersOutcome>>>,
    pub contributions: Held<Option<Arc<ContributionsOutcome>>>,
    /// Whether both belong to what is typed.
    pub contributions_are_current: Held<bool>,
    /// The name of the figure whose contributions are asked for.
    pub contributions_of: Held<Option<String>>,
    /// The board that is looked at, by its number from 0.
    pub board: Held<Option<u32>>,
    /// That board, once it is built again.
    pub built: Held<Option<Arc<BoardOutcome>>>,
    /// While more boards are being drawn.
    pub so_far: Held<Option<BoardsSoFar>>,
    /// Whether `spread` belongs to `stage`.
    pub spread_is_current: Held<bool>,
    /// Whether a sweep that came in is still looked through.
    pub looks_through: Held<bool>,
    /// Share of the boards drawn.
    pub progress: Held<f64>,
    /// Where the cursor reads the curves, Hz.
    pub cursor: Held<Option<f64>>,
    /// Changes when charts must be drawn again though their data did not change.
    pub redraw: Held<u32>,
    /// The path before it was emptied for a plant.
    pub emptied: Held<Option<Emptied>>,
    /// The design as it stands in the address, "" before it does: links to regions carry it.
    pub address: Held<String>,
    /// The entry that was changed last, by its path; none where something else was.
    pub entry: StoredValue<Option<String>>,
    /// What keeps results from coming.
    pub trouble: Held<Option<Trouble>>,
    /// What there is to export, as it was told last.
    pub available: Held<Vec<What>>,
    /// The build sheet as it was written last; what must be said of it where it is printed; and whether the printer waits for it.
    pub sheet: Held<Option<Written>>,
    pub sheet_warning: Held<Option<&'static str>>,
    pub print_waits: Held<bool>,
    /// What is to be said of a link, or of a design that was left.
    pub notice: Held<Option<Notice>>,
}

impl Desk {
    /// A desk with the design of the address's fragment, or the demo.
    pub fn open() -> Desk {
        let (design, notice) = fragment::open();
        let design = Held::new(design);
        let tree =
            memo(move || Arc::new(design.with(|d| serde_json::to_value(d).unwrap_or_default())));
        Desk {
            design,
            tree,
            text: memo(move || tree.with(|tree| json::written(tree).into())),
            drafts: Held::default(),
            unread: Held::default(),
            begun: Held::default(),
            refused: Held::default(),
            form: memo(move || design.with(Form::of)),
            stages: Held::default(),
            stage: Held::new(None),
            path: Held::new(None),
            help: Held::new(None),
            motion: Held::new(None),
            shaft: Held::new(None),
            filter: Held::new(None),
            supply: Held::new(None),
            demands: Held::new(None),
            bench: Held::new(None),
            noise: Held::new(None),
            servo: Held::new(None),
            loops: Held::new(None),
            others: Held::default(),
            better: Held::default(),
            others_are_current: Held::new(false),
            bench_is_current: Held::new(false),
            spread: Held::new(None),
            proposals: Held::new(None),
            proposals_are_current: Held::new(false),
            corners: Held::new(None),
            contributions: Held::new(None),
            contributions_are_current: Held::new(false),
            contributions_of: Held::new(None),
            board: Held::new(None),
            built: Held::new(None),
            so_far: Held::new(None),
            spread_is_current: Held::new(false),
            looks_through: Held::new(false),
            progress: Held::new(0.0),
            cursor: Held::new(None),
            redraw: Held::new(0),
            emptied: Held::new(None),
            address: Held::default(),
            entry: StoredValue::new(None),
            trouble: Held::new(None),
            available: Held::default(),
            sheet: Held::new(None),
            sheet_warning: Held::new(None),
            print_waits: Held::new(false),
            notice: Held::new(notice),
        }
    }

    /// Answers the shown stage's ask by another circuit.
    pub fn take_circuit(&self, circuit: &str) {
        self.edit_path(|design| {
            let shown = design.view.stage;
            let Some(stage) = design.stages.get_mut(shown) else {
                return;
            };
            stage.circuit = circuit.to_owned();
            stage.pins.clear();
            stage.variations.clear();
            stage.choice = 0;
            stage.by_whole = false;
        });
    }

    /// Whether there is a stage to show: an empty path is a wire.
    pub fn has_stage(&self) -> Derived<bool> {
        let form = self.form;
        memo(move || form.with(|form| !form.circuits.is_empty()))
    }

    /// What goes into the plant and comes out of it.
    pub fn units(&self) -> PlantUnits {
        self.form.with(|form| form.plant.units.clone())
    }

    /// Changes the design unless it is the same already.
    pub fn put(&self, design: Design) {
        if self.design.with_untracked(|now| *now != design) {
            self.design.set(design);
        }
    }

    /// The sentence to show at a field, if something is wrong there.
    pub fn complaint(&self, path: &str) -> Option<String> {
        self.unread
            .with(|unread| unread.get(path).cloned())
            .or_else(|| {
                self.refused.with(|refused| {
                    refused
                        .iter()
                        .find(|e| e.path == path)
                        .map(|e| e.message.clone())
                })
            })
    }

    /// The value of a field in the design.
    pub fn value(&self, path: &str) -> Value {
        self.tree
            .with(|tree| tree.pointer(path).cloned().unwrap_or_default())
    }

    /// Whether something typed is not what is shown.
    pub fn in_error(&self) -> bool {
        self.unread.with(|unread| !unread.is_empty())
            || self.refused.with(|refused| !refused.is_empty())
            || self
                .trouble
                .with(|trouble| trouble.as_ref().is_some_and(|now| *now != Trouble::Silent))
    }

    /// The fields of a group, as they are now.
    pub fn group(&self, group: Group) -> Vec<Field> {
        self.all(|own| *own == group)
    }

    /// The fields of some groups, as they are now.
    pub fn all(&self, is_wanted: impl Fn(&Group) -> bool) -> Vec<Field> {
        self.design.with_untracked(|design| {
            fields(design)
                .into_iter()
                .filter(|(group, _)| is_wanted(group))
                .map(|(_, field)| field)
                .collect()
        })
    }
}
