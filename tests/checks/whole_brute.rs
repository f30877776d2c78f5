//! The loop as a whole against brute force: notches and controllers tried on grids and by wandering, the loop
//! evaluated from the terms of plant, notches and controller.

use std::f64::consts::TAU;

use num_complex::Complex64;
use polewright::compensation::{ControllerForm, Role, Whole, WholeWish, WishedForm};
use polewright::plant::{Mode, Model};
use polewright::stages::{Ask, Depth};

use super::draw::Draw;
use super::whole::{ROLL_OFF, wish, worked_out};

/// A notch: frequency, pole Q, gain at its centre.
type Notch = [f64; 3];

fn size((f0, q, d): (f64, f64, f64), f: f64) -> f64 {
    let x = q * (f / f0 - f0 / f);
    ((x * x + d * d) / (x * x + 1.0)).sqrt()
}

fn left(notch: &Notch, f: f64) -> f64 {
    size((notch[0], notch[1], notch[2]), f)
}

/// The worst of a notch's box.
fn left_at_worst(notch: &Notch, wish: &WholeWish, f: f64) -> f64 {
    let mut worst = 0.0f64;
    for frequency in [-1.0, -0.5, 0.0, 0.5, 1.0] {
        for q in [-1.0, 0.0, 1.0] {
            let strayed = (
                notch[0] * (1.0 + frequency * wish.notch_frequency),
                notch[1] * (1.0 + q * wish.notch_q),
                notch[2],
            );
            worst = worst.max(size(strayed, f));
        }
    }
    worst
}

/// Degrees that a notch turns the phase by: of (1 − r² + j·d·r/q)/(1 − r² + j·r/q).
fn turn(notch: &Notch, f: f64) -> f64 {
    let r = f / notch[0];
    let over = Complex64::new(1.0 - r * r, notch[2] * r / notch[1]);
    let under = Complex64::new(1.0 - r * r, r / notch[1]);
    (over / under).arg().to_degrees()
}

/// A controller from its actions: integrator's corner, zero and roll-off as factors.
fn controller(form: ControllerForm, crossover: f64, free: f64, f: f64) -> Complex64 {
    let s = Complex64::new(0.0, f / crossover);
    match form {
        ControllerForm::Pid {
            integrator,
            roll_off,
        } => (1.0 + integrator / s) * (1.0 + s / free) / (1.0 + s / roll_off),
        ControllerForm::Pd { roll_off } => (1.0 + s / free) / (1.0 + s / roll_off),
        ControllerForm::Lead { .. } => (1.0 + s / free) / (1.0 + s * free),
        ControllerForm::Pi => 1.0 + free / s,
        ControllerForm::PiRollOff { roll_off } => (1.0 + free / s) / (1.0 + s / roll_off),
        ControllerForm::Integral => 1.0 / (1.0 + 9999f64.sqrt() * s),
    }
}

/// What brute force knows of a plant: the largest gain of all plants over each peak, and the plant at the crossover.
struct Brute<'a> {
    wish: &'a WholeWish,
    form: ControllerForm,
    there: Complex64,
    /// Of each mode above the crossover, whose place stands first.
    peaks: Vec<(usize, Vec<(f64, f64)>)>,
}

impl Brute<'_> {
    fn new<'a>(model: &Model, wish: &'a WholeWish, form: ControllerForm) -> Brute<'a> {
        // P from its terms; s in rad/s.
        let plant = |modes: &[Mode], f: f64| {
            let s = Complex64::new(0.0, TAU * f);
            let rigid = model.rigid.map_or(Complex64::ZERO, |rigid| {
                let free = rigid.gain / s.powu(rigid.integrators);
                match rigid.friction {
                    Some(corner) => free * s / (s + TAU * corner),
                    None => free,
                }
            });
            let each = modes.iter().map(|mode| {
                let own = TAU * mode.frequency;
                mode.residue / (s * s + 2.0 * mode.damping * own * s + own * own)
            });
            (rigid + each.sum::<Complex64>()) * (-s * model.delay).exp()
        };
        let mut peaks = Vec::new();
        for (place, mode) in model.modes.iter().enumerate() {
            let (drift, z) = (wish.variations.frequency, mode.damping);
            let low = mode.frequency * (1.0 - drift) * (1.0 - 3.0 * z).max(0.5);
            let high = mode.frequency * (1.0 + drift) * (1.0 + 3.0 * z).min(2.0);
            if low < wish.crossover {
                continue;
            }
            let mut points = Vec::new();
            for k in 0..=160 {
                let f = low + (high - low) * f64::from(k) / 160.0;
                let mut largest = 0.0f64;
                for step in -24..=24 {
                    for damping in [-1.0, 1.0] {
                        let mut modes = model.modes.clone();
                        modes[place].frequency *= 1.0 + drift * f64::from(step) / 24.0;
                        modes[place].damping *= 1.0 + damping * wish.variations.damping;
                        largest = largest.max(plant(&modes, f).norm());
                    }
                }
                points.push((f, largest * (1.0 + wish.variations.gain)));
            }
            peaks.push((place, points));
        }
        Brute {
            wish,
            form,
            // Brought right at the summing point.
            there: plant(&model.modes, wish.crossover) * model.low_sign(),
            peaks,
        }
    }

    /// The margin of a loop in degrees; none where a peak is not kept. The last of the numbers is the controller's
    /// free corner over the crossover.
    fn margin(&self, notches: &[Option<Notch>], free: f64) -> Option<f64> {
        let crossover = self.wish.crossover;
        // A lead's pole lies a hundred times above its zero at most, and no zero fifty times below the crossover.
        let least = match self.form {
            ControllerForm::Lead { .. } => 0.1,
            ControllerForm::Pid { .. } | ControllerForm::Pd { .. } => 0.02,
            _ => 0.0,
        };
        if free < least {
            return None;
        }
        let all = notches.iter().flatten();
        // A notch for a mode is nearer to it than to any other.
        for (place, notch) in notches.iter().enumerate() {
            let Some(notch) = notch else { continue };
            let middle = |place: usize| self.peaks[place].1[80].0;
            let off = |place: usize| (notch[0] / middle(place)).ln().abs();
            if (0..self.peaks.len()).any(|other| off(other) < off(place)) {
                return None;
            }
        }
        for notch in all.clone() {
            let is_sound = notch[0] > crossover
                && (0.3..=100.0).contains(&notch[1])
                && (0.0..=0.501).contains(&notch[2]);
            let u = notch[0] / crossover - crossover / notch[0];
            if !is_sound || (notch[1] * u).powi(2) < notch[2] {
                return None;
            }
        }
        let own = controller(self.form, crossover, free, crossover);
        let taken: f64 = all.clone().map(|notch| left(notch, crossover)).product();
        let gain = 1.0 / (self.there * own).norm() / taken;
        for (place, points) in &self.peaks {
            let level = self.wish.levels[*place];
            for (f, largest) in points {
                let mut size = gain * largest * controller(self.form, crossover, free, *f).norm();
                for notch in notches.iter().flatten() {
                    size *= left_at_worst(notch, self.wish, *f);
                }
                if size > level {
                    return None;
                }
            }
        }
        let mut phase = self.there.arg().to_degrees();
        if phase > 90.0 {
            phase -= 360.0;
        }
        phase += own.arg().to_degrees();
        let turned: f64 = all.map(|notch| turn(notch, crossover)).sum();
        Some(phase + turned + 180.0)
    }

    /// Lets a loop that keeps its peaks wander to better ones.
    fn wander(
        &self,
        draw: &mut Draw,
        from: &(Vec<Option<Notch>>, f64),
        steps: u32,
    ) -> (f64, Vec<Option<Notch>>, f64) {
        let (mut best, mut free) = from.clone();
        let Some(mut margin) = self.margin(&best, free) else {
            return (f64::NEG_INFINITY, best, free);
        };
        for step in 0..steps {
            let wide = [0.1, 0.03, 0.01, 0.003][(step % 4) as usize];
            let mut tried = best.clone();
            for notch in tried.iter_mut().flatten() {
                if draw.one_of(2) == 0 {
                    notch[0] *= 1.0 + wide * draw.even(-1.0, 1.0);
                }
                notch[1] *= 1.0 + 2.0 * wide * draw.even(-1.0, 1.0);
                if draw.one_of(2) == 0 {
                    notch[2] = (notch[2] * (1.0 + 3.0 * wide * draw.even(-1.0, 1.0))).max(1e-3);
                }
            }
            let mut other = free;
            if draw.one_of(2) == 0 {
                other *= 1.0 + 2.0 * wide * draw.even(-1.0, 1.0);
            }
            if let Some(found) = self.margin(&tried, other)
                && found > margin
            {
                (best, free, margin) = (tried, other, found);
            }
        }
        (margin, best, free)
    }

    /// The best of a grid, notch by notch with the others in place, for several free corners; each then wanders.
    fn best(&self, draw: &mut Draw) -> (f64, Vec<Option<Notch>>, f64) {
        let corners: Vec<f64> = match self.form {
            ControllerForm::Pi | ControllerForm::PiRollOff { .. } => {
                vec![0.002, 0.05, 0.2, 0.5, 1.0, 2.0]
            }
            ControllerForm::Integral => vec![1.0],
            _ => vec![0.12, 0.2, 0.3, 0.42, 0.6, 0.8],
        };
        let mut best = (f64::NEG_INFINITY, Vec::new(), 1.0);
        for free in corners {
            // From notches that are far too wide to the best: each round may only do better.
            let mut notches: Vec<Option<Notch>> = vec![None; self.peaks.len()];
            let wide = [0.3, 0.5, 0.8, 1.2, 2.0, 4.0, 8.0];
            let start = wide.into_iter().rev().find_map(|q| {
                let all = (self.peaks.iter())
                    .map(|(_, points)| {
                        let middle = points[points.len() / 2].0;
                        Some([middle, q, 0.01])
                    })
                    .collect::<Vec<_>>();
                self.margin(&all, free).map(|_| all)
            });
            if let Some(start) = start {
                notches = start;
            } else if self.margin(&notches, free).is_none() {
                continue;
            }
            for _ in 0..2 {
                for place in 0..notches.len() {
                    let middle = self.peaks[place].1[80].0;
                    let mut found = (self.margin(&notches, free), notches[place]);
                    let mut see = |notch: Option<Notch>| {
                        let mut tried = notches.clone();
                        tried[place] = notch;
                        let margin = self.margin(&tried, free);
                        if margin > found.0 {
                            found = (margin, notch);
                        }
                    };
                    see(None);
                    for f in 0..9 {
                        let frequency = middle * (0.88 + 0.03 * f64::from(f));
                        for q in 0..14 {
                            let q = 0.3 * 1.28f64.powi(q);
                            for d in [0.003, 0.05, 0.1, 0.2, 0.35, 0.5] {
                                see(Some([frequency, q, d]));
                            }
                        }
                    }
                    notches[place] = found.1;
                }
            }
            let found = self.wander(draw, &(notches, free), 1500);
            if found.0 > best.0 {
                best = found;
            }
        }
        best
    }
}

/// The notches and the free corner of an answer.
fn promised(whole: &Whole, brute: &Brute, crossover: f64) -> Option<(Vec<Option<Notch>>, f64)> {
    let mut notches = vec![None; brute.peaks.len()];
    let mut free = 1.0;
    for stage in &whole.stages {
        match (&stage.role, &stage.ask) {
            (Role::Notch { mode }, Ask::Notch(ask)) => {
                let place = brute.peaks.iter().position(|(place, _)| place == mode)?;
                let depth = match ask.depth {
                    Depth::Decibel(_) => ask.depth.gain(),
                    Depth::FullNull(()) => 0.0,
                };
                notches[place] = Some([ask.frequency, ask.pole_q(), depth]);
            }
            (Role::Controller(_), Ask::Pi(ask)) => free = ask.zero / crossover,
            (Role::Controller(_), Ask::TypeTwo(ask)) => free = ask.zero / crossover,
            (Role::Controller(_), Ask::Lead(ask)) => free = ask.zero / crossover,
            (Role::Controller(_), Ask::Pd(ask)) => free = ask.zero() / crossover,
            (Role::Controller(_), Ask::Integrator(_)) => free = 1.0,
            _ => return None,
        }
    }
    Some((notches, free))
}

#[test]
fn no_grid_finds_more_margin() {
    let (mut held, mut notched) = (0, 0);
    for number in 0..54 {
        // Each by itself: no plant hangs on what was found for another.
        let mut draw = Draw::new(4100 + number);
        let crossover = draw.corner(20.0, 800.0);
        let (model, kind) = draw.whole_plant(crossover);
        let form = match kind {
            2 => [
                ControllerForm::Pi,
                ControllerForm::PiRollOff { roll_off: ROLL_OFF },
            ][draw.one_of(2) as usize],
            4 => [ControllerForm::Integral, ControllerForm::Pi][draw.one_of(2) as usize],
            _ => [
                ControllerForm::PID,
                ControllerForm::LEAD,
                ControllerForm::Pd { roll_off: ROLL_OFF },
            ][draw.one_of(3) as usize],
        };
        // More than there is, so that the most is told.
        let wish = WholeWish {
            form: WishedForm::This(form),
            ..wish(&model, crossover, 150.0)
        };
        let whole = worked_out(&model, &wish);
        let Some(most) = whole.nearest.and_then(|nearest| nearest.phase_margin) else {
            continue;
        };
        let brute = Brute::new(&model, &wish, form);
        let mut found = brute.best(&mut draw);
        if let Some(start) = promised(&whole, &brute, crossover) {
            let near = brute.wander(&mut draw, &start, 4000);
            if near.0 > found.0 {
                found = near;
            }
        }
        assert!(
            found.0 < most + 1.0,
            "{number}, {}: {most} {found:?}",
            form.name()
        );
        held += 1;
        notched += usize::from(
            whole
                .stages
                .iter()
                .filter(|s| matches!(s.role, Role::Notch { .. }))
                .count()
                > 1,
        );
    }
    assert!(held >= 36 && notched >= 5, "{held} {notched}");
}
