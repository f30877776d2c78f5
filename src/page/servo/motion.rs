//! The closed loop in time: what moves it, where it goes, what it leaves, and what it asks of the drive.

use std::sync::Arc;

use crate::page::prelude::*;

use crate::design::{Group, PlantUnits, labelled, with_unit};
use crate::feedback::{Figures, Motion, Stimulus, Trajectory};
use crate::outcome::MotionOutcome;
use crate::page::cursor::Along;
use crate::page::desk::Desk;
use crate::page::field::Fields;
use crate::page::panel::{Panel, Reading};
use crate::page::parts::figure_text;
use crate::plots::{Chart, Plot, motion};
use crate::quantity::{Unit, rounded};

/// The stimuli by their words.
const STIMULI: [(&str, &str); 5] = [
    ("step", "a step"),
    ("ramp", "a ramp"),
    ("parabola", "a parabola"),
    ("disturbance", "a disturbance step at the plant"),
    ("trajectory", "your own trajectory"),
];

pub(in crate::page) fn word(stimulus: &Stimulus) -> &'static str {
    match stimulus {
        Stimulus::Step => "step",
        Stimulus::Ramp => "ramp",
        Stimulus::Parabola => "parabola",
        Stimulus::Disturbance => "disturbance",
        Stimulus::Trajectory { .. } => "trajectory",
    }
}

#[component]
pub fn InTime() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let now = memo(move || {
        desk.design
            .with(|design| word(&design.servo.motion.stimulus))
    });
    // A memo that nobody reads follows nothing: being told of it is not enough.
    let form = memo(move || desk.form.with(|form| form.plant.clone()));
    let units = memo(move || desk.units());
    // A trajectory is wanted before there is one.
    let is_own = Held::new(now.get_untracked() == "trajectory");
    let complaint = Held::new(None::<String>);
    let place = Held::new(None);
    let reading = move |unit: &str| Reading {
        along: Along::Time,
        place,
        text: Some(|v| rounded(v, Unit::One, 4)),
        unit: Some(Derived::fixed(unit.to_owned())),
    };
    let options = STIMULI
        .map(|(value, name)| view! { <option value=value selected=move || now.get() == value>{name}</option> })
        .collect_nodes();
    let chosen = move |event| {
        let word = event_target_value(&event);
        is_own.set(word == "trajectory");
        complaint.set(None);
        let stimulus = match word.as_str() {
            "step" => Stimulus::Step,
            "ramp" => Stimulus::Ramp,
            "parabola" => Stimulus::Parabola,
            "disturbance" => Stimulus::Disturbance,
            _ => return,
        };
        desk.edit_plant(|servo| servo.motion.stimulus = stimulus);
    };
    let pasted = move |event| match Trajectory::read(&event_target_value(&event)) {
        Ok(trajectory) => {
            complaint.set(None);
            desk.edit_plant(|servo| servo.motion.stimulus = Stimulus::Trajectory { trajectory });
        }
        Err(sentence) => complaint.set(Some(sentence)),
    };
    let own = move || {
        is_own.get().then(|| {
            view! {
                <form class="field" autocomplete="off" method="dialog">
                    <label for="trajectory">"Trajectory"</label>
                    <textarea
                        id="trajectory"
                        rows="5"
                        spellcheck="false"
                        placeholder=move || rows_of(&units.get())
                        on:input=pasted
                    ></textarea>
                </form>
                {move || complaint.get().map(|sentence| view! { <p class="problem" role="alert">{sentence}</p> })}
            }
        })
    };
    let told = move || {
        desk.motion.with(|motion| {
            let motion = motion.as_ref()?;
            let why = motion
                .why
                .clone()
                .map(|why| view! { <p class="problem" role="alert">{why}</p> });
            let figures = motion
                .answer
                .as_ref()
                .map(|answer| figures(&answer.figures, motion, desk));
            let notes = motion
                .answer
                .iter()
                .flat_map(|answer| answer.notes.iter())
                .chain(&motion.told);
            let notes = notes
                .map(|note| view! { <li>{note.clone()}</li> })
                .collect_nodes();
            Some(view! { {why} {figures} <ul class="notes">{notes}</ul> })
        })
    };
    view! {
        <section class="loop-boards" aria-labelledby="in-time-title">
            <h3 id="in-time-title">"Closed-loop time response"</h3>
            <div class="loop-grid">
                <div class="loop-results">
                    <div class="field">
                        <label for="stimulus">"Stimulus"</label>
                        <select id="stimulus" on:change=chosen>{options}</select>
                    </div>
                    {own}
                    {move || { form.with(|_| ()); view! { <Fields fields=desk.group(Group::Motion) /> } }}
                </div>
                <div>
                    <div class="loop-curves">
                        {move || {
                            let units = units.get();
                            view! {
                                <Panel title=labelled(Chart::Position.title(), &units.output) file=Chart::Position.name() legend=Chart::Position.legend() plot=of_motion(desk, motion::position) reading=reading(&units.output) />
                                <Panel title=labelled(Chart::Drive.title(), &units.input) file=Chart::Drive.name() legend=Chart::Drive.legend() plot=of_motion(desk, motion::drive) reading=reading(&units.input) />
                            }
                        }}
                    </div>
                    {told}
                </div>
            </div>
        </section>
    }
}

const WITHOUT_BOUND: &str = "grows without bound";
/// Where the sweep does not tell; the sentences name each answer.
const OPEN: &str = "open: the sweep does not decide it";

/// What a trajectory is made of.
fn rows_of(units: &PlantUnits) -> String {
    match units.output.as_str() {
        "" => "Rows of time in s and position".to_owned(),
        output => format!("Rows of time in s and position in {output}"),
    }
}

/// The figures that there are.
fn figures(found: &Figures, motion: &MotionOutcome, desk: Desk) -> impl Content + use<> {
    let units = &desk.units();
    let row = |name: &'static str, label: &'static str, value: Option<f64>, unit: Unit| {
        value.map(|value| {
            view! {
                <tr>
                    <th scope="row">{label}</th>
                    <td class="number" data-figure=name data-value=value.to_string()>{figure_text(value, unit)}</td>
                </tr>
            }
        })
    };
    let PlantUnits { input, output } = units.clone();
    let named = |name: &'static str, label: &'static str, value: f64, unit: &str| {
        view! {
            <tr>
                <th scope="row">{label}</th>
                <td class="number" data-figure=name data-value=value.to_string()>
                    {with_unit(figure_text(value, Unit::One), unit)}
                </td>
            </tr>
        }
    };
    let is_open = desk.design.with_untracked(|design| {
        let stimulus = &design.servo.motion.stimulus;
        motion.is_open(|constants| constants.left(stimulus))
    });
    let steady = found.steady_error.filter(|_| !is_open);
    let left = match steady {
        _ if is_open => OPEN.to_owned(),
        Some(value) => with_unit(rounded(value, Unit::One, 4), &output),
        None => WITHOUT_BOUND.to_owned(),
    };
    view! {
        <table class="figures">
            <tbody>
                {row("overshoot", "Overshoot", found.overshoot, Unit::Percent)}
                {row("rise-time", "Rise time, 10 to 90 %", found.rise_time, Unit::Second)}
                {row("settling-time", "Settling time", found.settling_time, Unit::Second)}
                {named("peak-error", "Peak error", found.peak_error, &output)}
                <tr>
                    <th scope="row">"Steady-state error"</th>
                    <td class="number" data-figure="steady-error" data-value=steady.unwrap_or(f64::NAN).to_string()>
                        {left}
                    </td>
                </tr>
                {tracked("ramp-error", 1, motion, units)}
                {tracked("parabola-error", 2, motion, units)}
                {found.rms_error.map(|error| named("rms-error", "Tracking error, rms", error, &output))}
                {named("drive-peak", "Peak drive", found.drive_peak, &input)}
            </tbody>
        </table>
    }
}

/// What a ramp or a parabola leaves, and from where to where that holds.
fn tracked(
    name: &'static str,
    power: u32,
    motion: &MotionOutcome,
    units: &PlantUnits,
) -> impl Content + use<> {
    let tracking = motion.constants.as_ref()?.tracking(power as i32);
    let is_open = motion.is_open(|constants| match power {
        1 => constants.ramp_error,
        _ => constants.parabola_error,
    });
    // What holds in a band of commands does not hang on what the plant does at rest.
    let tracking = tracking.filter(|tracking| !is_open || tracking.band.is_some());
    let what = if power == 1 { "ramp" } else { "parabola" };
    let label = format!("Error along a {what} of {}", units.one_per_second(power));
    let hertz = |f: f64| rounded(f, Unit::Hertz, 2);
    let held = tracking.and_then(|t| t.band);
    let held =
        held.map(|(low, high)| format!("commands between {} and {}", hertz(low), hertz(high)));
    let value = tracking.map_or(f64::NAN, |t| t.error);
    let text = match tracking {
        Some(t) => with_unit(rounded(t.error, Unit::One, 4), &units.output),
        None if is_open => OPEN.to_owned(),
        None => WITHOUT_BOUND.to_owned(),
    };
    Some(view! {
        <tr>
            <th scope="row">{label}</th>
            <td class="number" data-figure=name data-value=value.to_string()>
                {text} <span class="at">{held}</span>
            </td>
        </tr>
    })
}

/// What `plot` makes of the last good answer.
fn of_motion(
    desk: Desk,
    plot: fn(&Motion, Option<f64>, &PlantUnits) -> Plot,
) -> Derived<Option<Arc<Plot>>> {
    memo(move || {
        desk.motion.with(|motion| {
            let answer = motion.as_ref()?.answer.as_ref()?;
            let limit = desk
                .design
                .with_untracked(|design| design.servo.motion.saturation);
            Some(Arc::new(plot(answer, limit, &desk.units())))
        })
    })
}
