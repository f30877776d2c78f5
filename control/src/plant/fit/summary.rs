//! From a finished descent to what is told of it.

use num_complex::Complex64;

use super::astray;
use super::data::{Data, Scale, sizes};
use super::decision::Decision;
use super::descent::Descent;
use super::fitted::Fitted;
use super::judge;
use super::merging::ILL;
use super::structure;
use super::terms::{self, Curved, DAMPING};
use crate::numerics::put_in_order;
use crate::plant::{Mode, Model, Rigid, Sweep, antiresonances, peaks};
use crate::quantity::{Unit, rounded};
use crate::wording::hertz_closely as hertz;

/// With fewer points for each of its numbers a model is told to be doubtful (common practice asks for several).
const FEW: usize = 3;

/// Everything about a model that `descent` found, for the whole sweep. `range` in Hz; `set_aside` are
/// indices into the sweep.
pub(super) fn fitted(
    descent: &Descent,
    data: &Data,
    scale: Scale,
    sweep: &Sweep,
    set_aside: Vec<usize>,
    range: (f64, f64),
    decision: Option<Decision>,
) -> Fitted {
    let mut order: Vec<usize> = (0..descent.model.modes.len()).collect();
    let frequency = |k: &usize| descent.model.modes[*k].frequency;
    put_in_order(&mut order, |a, b| frequency(a).total_cmp(&frequency(b)));
    let sorted = |model: &Model| Model {
        modes: order.iter().map(|&k| model.modes[k]).collect(),
        ..model.clone()
    };
    let model = sorted(&scale.outward(&descent.model));
    let uncertainties = sorted(&outward(&uncertainties(descent, data), scale));
    let mut free = descent.free.clone();
    free.modes = order.iter().map(|&k| descent.free.modes[k]).collect();

    let points = &sweep.points;
    let magnitudes: Vec<f64> = points.iter().map(|p| p.response.norm()).collect();
    let floor = 1e-9 * scale.size;
    let residual = |(p, size): (&crate::plant::Point, f64)| {
        (model.at(p.frequency) - p.response) / size.max(floor)
    };
    let residuals: Vec<Complex64> = points
        .iter()
        .zip(sizes(&magnitudes))
        .map(residual)
        .collect();
    let rms = rms(descent, data);
    // The range went to other units and back.
    let inside = |f: f64| f > range.0 * (1.0 - 1e-9) && f < range.1 * (1.0 + 1e-9);
    let (seen, left): (Vec<_>, Vec<_>) = (points.iter().copied().zip(residuals.iter().copied()))
        .filter(|(point, _)| inside(point.frequency))
        .unzip();
    let mut all = astray::notes(&seen, &left, rms);
    all.extend(notes(
        descent,
        data,
        (&model, &uncertainties),
        sweep,
        &set_aside,
        range,
    ));
    if rms > 1e-6 && judge::alike(&descent.residual) > judge::ALIKE {
        let most = structure::told(&seen, &left);
        let most = most.map_or(String::new(), |most| format!(", {most}"));
        all.push(format!(
            "The residual is not white noise, neighbouring points deviate alike{most}: the uncertainties are too small."
        ));
    }
    Fitted {
        decision: decision.map(|decision| decision.if_followed(astray::is_followed(rms))),
        free,
        rms,
        residuals,
        peaks: peaks(&model),
        antiresonances: antiresonances(&model, range.0, range.1),
        notes: all,
        uncertainties,
        set_aside,
        model,
    }
}

/// Root mean square of what is left.
fn rms(descent: &Descent, data: &Data) -> f64 {
    (descent.cost / data.count().max(1) as f64).sqrt()
}

/// Standard uncertainties, in the data's units.
fn uncertainties(descent: &Descent, data: &Data) -> Model {
    let linear = terms::linear(&descent.model, &descent.free);
    let curved = terms::curved(&descent.model, &descent.free);
    let mut columns = descent.columns(data);
    let count = columns.count();
    let variances = columns.orthogonalise(0).variances(count);
    let noise = judge::noise(descent.cost, count, data);
    let mut found = Model {
        rigid: descent.model.rigid.map(|r| Rigid {
            gain: 0.0,
            friction: r.friction.map(|_| 0.0),
            ..r
        }),
        modes: vec![
            Mode {
                frequency: 0.0,
                damping: 0.0,
                residue: 0.0,
                slope: 0.0
            };
            descent.model.modes.len()
        ],
        lag: descent.model.lag.map(|_| 0.0),
        delay: 0.0,
    };
    let mut model = descent.model.clone();
    for (j, variance) in variances.iter().enumerate() {
        let deviation = (variance * noise).sqrt();
        let (place, deviation) = match j.checked_sub(linear.len()) {
            None => (linear[j].of(&mut found), deviation),
            Some(j) => {
                // Of the logarithm, but for the delay.
                let factor = match curved[j] {
                    Curved::Delay => 1.0,
                    term => term.of(&mut model).copied().unwrap_or(1.0),
                };
                (curved[j].of(&mut found), deviation * factor)
            }
        };
        if let Some(place) = place {
            *place = deviation;
        }
    }
    found
}

/// In SI, and finite, so that JSON can hold it.
fn outward(uncertainties: &Model, scale: Scale) -> Model {
    let mut model = scale.outward(uncertainties);
    let finite = |x: &mut f64| *x = if x.is_finite() { *x } else { f64::MAX };
    if let Some(rigid) = &mut model.rigid {
        finite(&mut rigid.gain);
        rigid.friction.iter_mut().for_each(finite);
    }
    model.lag.iter_mut().for_each(finite);
    finite(&mut model.delay);
    for mode in &mut model.modes {
        finite(&mut mode.frequency);
        finite(&mut mode.damping);
        finite(&mut mode.residue);
        finite(&mut mode.slope);
    }
    model
}

fn notes(
    descent: &Descent,
    data: &Data,
    (model, uncertainties): (&Model, &Model),
    sweep: &Sweep,
    set_aside: &[usize],
    range: (f64, f64),
) -> Vec<String> {
    let mut notes = Vec::new();
    if !set_aside.is_empty() {
        let at: Vec<String> = set_aside
            .iter()
            .take(5)
            .filter_map(|&i| sweep.points.get(i))
            .map(|p| hertz(p.frequency))
            .collect();
        let more = set_aside.len().saturating_sub(5);
        let more = if more > 0 {
            format!(" and {more} more")
        } else {
            String::new()
        };
        notes.push(format!(
            "Outliers, far off while their neighbours are not, were set aside: {}{more}.",
            at.join(", ")
        ));
    }
    let (points, unknowns) = (data.count(), descent.unknowns());
    if points < FEW * unknowns {
        notes.push(format!(
            "{points} points are few for the {unknowns} numbers of this model, and another model may fit them as \
             well: look at its sign and its modes before it is believed, or measure more points."
        ));
    }
    notes.extend(ill_determined(model, uncertainties));
    for mode in &model.modes {
        let f = hertz(mode.frequency);
        if mode.frequency < range.0 || mode.frequency > range.1 {
            notes.push(format!(
                "The mode at {f} lies outside the fitted range and stands for what is out there."
            ));
        }
        if mode.damping <= DAMPING.0 || mode.damping >= DAMPING.1 {
            notes.push(format!(
                "The damping of the mode at {f} was stopped at {}.",
                mode.damping
            ));
        }
    }
    notes
}

/// Residues that the sweep hardly tells, aloud.
fn ill_determined(model: &Model, uncertainties: &Model) -> Vec<String> {
    let doubt = |k: usize| uncertainties.modes[k].residue / model.modes[k].residue.abs();
    let is_ill = |k: &usize| doubt(*k) > ILL;
    let at = |k: usize| hertz(model.modes[k].frequency);
    let mut said = Vec::new();
    let mut told = Vec::new();
    for (a, b) in model.twins() {
        told.extend([a, b]);
        let residues = if is_ill(&a) || is_ill(&b) {
            "; the sweep hardly separates their residues"
        } else {
            ""
        };
        said.push(format!(
            "The modes at {} and {} are closer than their widths and drift together{residues}.",
            at(a),
            at(b)
        ));
    }
    let alone = (0..model.modes.len()).filter(|k| is_ill(k) && !told.contains(k));
    said.extend(alone.map(|k| {
        let doubt = doubt(k);
        let by = if doubt < 10.0 {
            format!("only to {}", rounded(doubt, Unit::Percent, 2))
        } else {
            "not at all".to_owned()
        };
        format!(
            "The sweep determines the residue of the mode at {} {by}.",
            at(k)
        )
    }));
    said
}
