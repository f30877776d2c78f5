//! The plant: its model, mode by mode, and how far it can be trusted.

use maud::{Markup, html};

use super::entries::Entries;
use crate::design::{PlantUnits, labelled, with_unit};
use crate::outcome::{PlantOutcome, ServoOutcome};
use crate::plant::{Fitted, LowEnd, Model};
use crate::quantity::{Unit, rounded};
use crate::wording::{capital, figure_text};

/// The model in use, or why there is none.
pub fn plant(entries: &Entries, servo: &ServoOutcome) -> Markup {
    let plant = &servo.plant;
    let units = &entries.design.servo.units;
    html! {
        section {
            h3 { "Plant" }
            @if let Some(why) = &plant.unfitted { p.sheet-missed { (why) } }
            @if let Some(model) = &plant.model {
                p { (described(model, plant, units)) }
                (modes(model, plant.fitted.as_ref(), plant, units))
            }
            @if let Some(of) = entries.design.servo.swept_of {
                p.sheet-secondary { "Worked out from a sweep of " (of.name()) " with the path that was in the loop." }
            }
            @if let Some(fitted) = &plant.fitted { (trusted(fitted, plant)) }
        }
    }
}

/// What holds it at low frequencies, its delay and its lag.
fn described(model: &Model, plant: &PlantOutcome, units: &PlantUnits) -> String {
    let doubt = plant.fitted.as_ref().map(|fitted| &fitted.uncertainties);
    let with = |value: f64, read: &dyn Fn(&Model) -> Option<f64>, unit| {
        with_doubt(value, doubt.and_then(read).unwrap_or(0.0), unit)
    };
    let mut told = vec![capital(LowEnd::of(model).name())];
    if let Some(rigid) = model.rigid {
        let gain = with(rigid.gain, &|m| Some(m.rigid?.gain), Unit::One);
        told.push(format!(
            "rigid gain {}",
            with_unit(gain, &units.ratio_times_rate(rigid.integrators))
        ));
        if let Some(corner) = rigid.friction {
            told.push(format!(
                "friction corner {}",
                with(corner, &|m| m.rigid?.friction, Unit::Hertz)
            ));
        }
    }
    if let Some(lag) = model.lag {
        told.push(format!("lag corner {}", with(lag, &|m| m.lag, Unit::Hertz)));
    }
    told.push(format!(
        "delay {}",
        with(model.delay, &|m| Some(m.delay), Unit::Second)
    ));
    told.join(", ") + "."
}

fn modes(
    model: &Model,
    fitted: Option<&Fitted>,
    plant: &PlantOutcome,
    units: &PlantUnits,
) -> Markup {
    let doubt = |index: usize, read: fn(&crate::plant::Mode) -> f64| {
        let mode = fitted.and_then(|fitted| fitted.uncertainties.modes.get(index));
        mode.map_or(0.0, read)
    };
    let has_slope = model.modes.iter().any(|mode| mode.slope != 0.0);
    html! {
        @if !model.modes.is_empty() {
            table {
                thead {
                    tr {
                        th scope="col" { "Mode" }
                        th.number scope="col" { "Frequency" }
                        th.number scope="col" { "Damping ζ" }
                        th.number scope="col" { (labelled("Residue", &units.ratio_times_rate(2))) }
                        @if has_slope { th.number scope="col" { (labelled("Slope", &units.ratio_times_rate(1))) } }
                        th.number scope="col" { (with_unit("Height".to_owned(), &units.reference())) }
                        th.number scope="col" { "Above the other modes" }
                    }
                }
                tbody {
                    @for (index, mode) in model.modes.iter().enumerate() {
                        tr {
                            th scope="row" { (index + 1) }
                            td.number { (with_doubt(mode.frequency, doubt(index, |m| m.frequency), Unit::Hertz)) }
                            td.number { (with_doubt(mode.damping, doubt(index, |m| m.damping), Unit::One)) }
                            td.number { (with_doubt(mode.residue, doubt(index, |m| m.residue), Unit::One)) }
                            @if has_slope { td.number { (with_doubt(mode.slope, doubt(index, |m| m.slope), Unit::One)) } }
                            @match plant.peaks.get(index) {
                                Some(peak) => {
                                    td.number { (figure_text(20.0 * peak.height.log10(), Unit::Decibel)) }
                                    td.number { @if let Some(rise) = peak.rise_db { (figure_text(rise, Unit::Decibel)) } }
                                },
                                None => { td {} td {} },
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The fit's residual and all that is to be known of it.
fn trusted(fitted: &Fitted, plant: &PlantOutcome) -> Markup {
    let points = plant
        .measured
        .as_ref()
        .map_or(0, |shape| shape.frequency.len());
    let decided = fitted
        .decision
        .iter()
        .flat_map(|decision| decision.sentences());
    let notes: Vec<String> = decided.chain(fitted.notes.iter().cloned()).collect();
    html! {
        p.sheet-secondary {
            "Fitted to a measured sweep of " (points) " points, ± one standard uncertainty; residual "
            (rounded(fitted.rms, Unit::Percent, 2)) " rms of the measured magnitude. "
            (notes.join(" "))
        }
    }
}

/// A number and its standard uncertainty.
fn with_doubt(value: f64, doubt: f64, unit: Unit) -> String {
    let text = rounded(value, unit, 5);
    if doubt > 1e300 {
        return format!("{text}, not determined");
    }
    match doubt > 0.0 {
        true => format!("{text} ± {}", rounded(doubt, unit, 2)),
        false => text,
    }
}
