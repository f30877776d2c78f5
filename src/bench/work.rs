//! All of it in slices.

use std::task::Poll;

use super::band::{BandVerdict, BandWork};
use super::cause::{Idea, PartAt};
use super::data::Data;
use super::evidence::{Evidence, evidence};
use super::fit::{Fit, square};
use super::measurement::MeasurementError;
use super::noise::noise;
use super::predict::{Curves, Predictor, Unknowns};
use super::prior::NumberLaw;
use super::repair::{RepairWork, Suspect};
use super::report::{BlockShare, Likely, OpAmpNumber, PartValue, Report, Verdict};
use super::setting::Setting;
use super::weigh::{Weighed, alike, weigh};
use crate::circuit::Kind;
use crate::numerics::put_in_order;
use crate::quantity::Unit;

/// Noise that the first fits take.
const FIRST_NOISE: f64 = 0.01;
/// Steps of every cause before the hopeless ones are left out; how many stay; steps of those; how many stay to the end.
const ROUNDS: [(usize, usize); 2] = [(2, 44), (2, 36)];
/// Chance that the measurement's gain was calibrated.
const CALIBRATED: f64 = 0.997;
/// Steps of one cause at most.
const STEPS: usize = 30;
/// How often the noise is told anew.
const NOISES: usize = 2;
/// Causes this much less likely than the best one are not integrated, as a logarithm.
const HOPELESS: f64 = 25.0;
/// Causes that together have this share of what is probable cannot be told apart.
const TOGETHER: f64 = 0.95;
/// The same where they are told as suspects.
const SUSPECTED: f64 = 0.95;
/// A board is called ill where healthy is less probable than this, and healthy from the second on.
const ILL: f64 = 0.05;
const WELL: f64 = 0.4;
/// Errors larger than the noise by this factor are not explained.
const UNEXPLAINED: f64 = 1.6;
/// Boards that a repair is tried on.
const BOARDS: usize = 128;
/// Most probable boards that it is sought on.
const CENTRES: usize = 4;
/// A number is measured where its standard deviation is below this share of what its law leaves.
const MEASURED: f64 = 0.7;

/// The work on one measurement: [`BenchWork::advance`] until it is ready.
pub struct BenchWork {
    setting: Setting,
    laws: Vec<NumberLaw>,
    unknowns: Unknowns,
    data: Data,
    predictor: Predictor,
    sharpness: Vec<f64>,
    noise: f64,
    /// Fits, and which of them is worked on.
    fits: Vec<Fit>,
    at: usize,
    state: State,
}

enum State {
    /// The healthy board's, for the noise.
    First(usize),
    /// All, in rounds.
    Rounds(usize),
    /// To the end, with the noise told so often.
    Finishing(usize),
    Weighing(Vec<(usize, Evidence)>),
    Band(Box<Found>, Box<BandWork>),
    Repairs(Box<Found>, Box<BandVerdict>, Box<RepairWork>),
    Done(Box<Report>),
}

/// What is known when causes are weighed.
struct Found {
    weighed: Vec<Weighed>,
    misfit: f64,
}

impl BenchWork {
    /// Begins.
    ///
    /// # Errors
    /// What is wrong with the measurement.
    pub fn begin(setting: Setting) -> Result<BenchWork, MeasurementError> {
        setting.check()?;
        let laws = setting.laws();
        let unknowns = Unknowns::new(&setting, &laws);
        let data = Data::new(&setting.measurement);
        let noise = setting.measurement.noise.unwrap_or(FIRST_NOISE);
        let ideas = Idea::all(&setting, &laws);
        // With a gain that may be anything no cause is lost that goes with a wrong gain; what is calibrated comes later.
        let healthy = Fit::new(
            &setting,
            &unknowns,
            (ideas[0].0, ideas[0].1 * CALIBRATED),
            false,
        );
        let loose = ideas.into_iter().map(|(idea, chance)| {
            let idea = (idea.with_a_loose_gain(), chance * (1.0 - CALIBRATED));
            Fit::new(&setting, &unknowns, idea, true)
        });
        let fits = std::iter::once(healthy).chain(loose).collect();
        Ok(BenchWork {
            predictor: Predictor::new(&setting),
            sharpness: data.sharpness(noise),
            state: State::First(0),
            at: 0,
            setting,
            laws,
            unknowns,
            data,
            noise,
            fits,
        })
    }

    /// Works until the report is there or `go_on` says no.
    pub fn advance(&mut self, go_on: &mut dyn FnMut() -> bool) -> Poll<Report> {
        loop {
            if !go_on() {
                return Poll::Pending;
            }
            // Each arm puts the next state in its place.
            match std::mem::replace(&mut self.state, State::First(0)) {
                State::First(steps) => self.first(steps),
                State::Rounds(round) => self.round(round),
                State::Finishing(times) => self.finish(times),
                State::Weighing(found) => self.weigh(found),
                State::Band(found, mut work) => {
                    let known = (&self.unknowns, &self.data);
                    match work.advance(&self.setting, known, &mut self.predictor, go_on) {
                        Poll::Pending => {
                            self.state = State::Band(found, work);
                            return Poll::Pending;
                        }
                        Poll::Ready(band) => {
                            let (centres, boards) = self.suspects(&found);
                            let work = RepairWork::new(&self.setting, centres, boards);
                            self.state = State::Repairs(found, Box::new(band), Box::new(work));
                        }
                    }
                }
                State::Repairs(found, band, mut work) => match work.advance(&self.setting, go_on) {
                    Poll::Pending => {
                        self.state = State::Repairs(found, band, work);
                        return Poll::Pending;
                    }
                    Poll::Ready((verdict, repairs, figures)) => {
                        let mut report = self.report(&found, *band);
                        report.repair = verdict;
                        report.repairs = repairs;
                        report.figures = figures;
                        if report.verdict == Verdict::Unexplained {
                            report.repair = super::RepairVerdict::Unknown;
                            report.repairs.clear();
                        }
                        self.state = State::Done(Box::new(report));
                    }
                },
                State::Done(report) => {
                    let told = report.as_ref().clone();
                    self.state = State::Done(report);
                    return Poll::Ready(told);
                }
            }
        }
    }

    fn step(&mut self, at: usize) {
        self.fits[at].step(
            &self.setting,
            (&self.unknowns, &self.laws, &self.data),
            &self.sharpness,
            &mut self.predictor,
        );
    }

    /// A step of the healthy board's fit; when it is done, the noise by what it leaves.
    fn first(&mut self, steps: usize) {
        self.step(0);
        if !self.fits[0].is_done && steps < STEPS {
            self.state = State::First(steps + 1);
            return;
        }
        if self.setting.measurement.noise.is_none()
            && let Some((noise, _)) = noise(&self.data, &self.fits[0].curves.total)
        {
            // As long as the model may be wrong its errors may pass for noise.
            self.noise = noise.min(2.0 * FIRST_NOISE);
            self.sharpness = self.data.sharpness(self.noise);
        }
        self.at = 0;
        self.begin_anew();
        self.state = State::Rounds(0);
    }

    /// All fits are told the noise.
    fn begin_anew(&mut self) {
        self.fits.iter_mut().for_each(Fit::begin_anew);
    }

    /// Some steps of one cause; behind the last one the hopeless ones are left out.
    fn round(&mut self, round: usize) {
        let Some((steps, kept)) = ROUNDS.get(round).copied() else {
            self.at = 0;
            self.state = State::Finishing(0);
            return;
        };
        if self.at < self.fits.len() {
            for _ in 0..steps {
                if !self.fits[self.at].is_done {
                    self.step(self.at);
                }
            }
            self.at += 1;
            self.state = State::Rounds(round);
            return;
        }
        let healthy = self.fits.remove(0);
        // NaN is hopeless.
        let cost = |fit: &Fit| match fit.cost() {
            cost if cost.is_finite() => cost,
            _ => f64::INFINITY,
        };
        put_in_order(&mut self.fits, |a, b| cost(a).total_cmp(&cost(b)));
        self.fits.truncate(kept);
        if round == 0 {
            // The good board with a calibrated gain is there already.
            let is_tight_too = |fit: &&Fit| fit.idea != Idea::MeasuredGain;
            let tight = self.fits.iter().filter(is_tight_too);
            let odds = CALIBRATED / (1.0 - CALIBRATED);
            let tight: Vec<Fit> = tight
                .map(|fit| fit.calibrated(&self.unknowns, odds))
                .collect();
            self.fits.extend(tight);
        }
        self.fits.insert(0, healthy);
        self.at = 0;
        self.state = State::Rounds(round + 1);
    }

    /// One cause to the end; behind the last one the noise is told anew.
    fn finish(&mut self, times: usize) {
        if self.at < self.fits.len() {
            for _ in 0..STEPS {
                if self.fits[self.at].is_done {
                    break;
                }
                self.step(self.at);
            }
            self.at += 1;
            self.state = State::Finishing(times);
            return;
        }
        self.at = 0;
        self.leave_out_hopeless();
        let best = self.best();
        let told = noise(&self.data, &self.fits[best].curves.total);
        match told {
            Some((noise, wild)) if times < NOISES && self.setting.measurement.noise.is_none() => {
                self.noise = noise;
                if times == 0 {
                    for k in wild {
                        self.data.leave_out(k);
                    }
                }
                self.sharpness = self.data.sharpness(noise);
                self.begin_anew();
                self.state = State::Finishing(times + 1);
            }
            _ => self.state = State::Weighing(Vec::new()),
        }
    }

    /// Leaves out causes that are far from the best one however much its errors are made of noise; the healthy board stays.
    fn leave_out_hopeless(&mut self) {
        let least = self.fits[self.best()].cost();
        let scale = (least / self.data.count()).max(1.0);
        let bound = least + 4.0 * HOPELESS * scale;
        let mut at = 0;
        self.fits.retain(|fit| {
            at += 1;
            at == 1 || fit.cost() < bound
        });
    }

    /// The fit with the least cost.
    fn best(&self) -> usize {
        let costs = self.fits.iter().map(Fit::cost).enumerate();
        let costs = costs.filter(|(_, cost)| cost.is_finite());
        let best = costs.min_by(|a, b| a.1.total_cmp(&b.1));
        best.map_or(0, |(at, _)| at)
    }

    /// One cause's evidence; behind the last one they are weighed.
    fn weigh(&mut self, mut found: Vec<(usize, Evidence)>) {
        let count = self.data.count();
        let squares = self.fits.iter().map(|fit| fit.square);
        let squares = squares.filter(|square| square.is_finite());
        let least = squares.fold(f64::MAX, f64::min).max(count);
        let at = self.at;
        if at < self.fits.len() {
            self.at += 1;
            let bound = self.fits[self.best()].cost() + 2.0 * HOPELESS * (least / count);
            if at == 0 || self.fits[at].cost() < bound {
                let fit = &mut self.fits[at];
                let known = (&self.unknowns, &self.laws[..], &self.data);
                fit.linearise(&self.setting, known, &self.sharpness, &mut self.predictor);
                let known = (&self.unknowns, &self.laws[..]);
                let seed = self.setting.seed.wrapping_add(1);
                if let Some(evidence) = evidence(&self.fits[at], known, (least, count), seed) {
                    found.push((at, evidence));
                }
            }
            self.state = State::Weighing(found);
            return;
        }
        let weighed = weigh(&self.fits, found);
        let misfit = weighed.first().map_or(f64::INFINITY, |best| {
            let fit = &self.fits[best.fit];
            let determined = fit.posterior().map_or(0.0, |p| p.determined());
            let noise = self.data.sharpness(self.noise);
            let free = (count - determined).max(1.0);
            (square(&self.data, &noise, &fit.curves) / free).sqrt()
        });
        let mut curves = Curves::default();
        let x = vec![0.0; self.unknowns.count()];
        let marked = self.setting.nominal();
        self.predictor.curves(
            &self.setting,
            (&self.unknowns, &self.data),
            (&marked, &x, 1.0),
            &mut curves,
        );
        let work = BandWork::new(&self.setting, curves.total, self.noise);
        let found = Found { weighed, misfit };
        self.state = State::Band(Box::new(found), Box::new(work));
    }

    /// The most probable boards, and others that it might be.
    fn suspects(&self, found: &Found) -> (Vec<Suspect>, Vec<Suspect>) {
        let board = |weighed: &Weighed, x: &[f64], weight: f64| {
            let fit = &self.fits[weighed.fit];
            let (mut numbers, mut righted) = (Vec::new(), Vec::new());
            self.unknowns.board(&fit.base, x, &mut numbers);
            let mut x = x.to_vec();
            if let Some(k) = fit.lawless() {
                x[k] = 0.0;
            }
            self.unknowns
                .board(&self.setting.nominal(), &x, &mut righted);
            Suspect {
                idea: fit.idea,
                numbers,
                righted,
                weight,
            }
        };
        let likely = found.weighed.iter().take(CENTRES);
        let total: f64 = likely.clone().map(|one| one.probability).sum();
        let centres = likely.map(|one| {
            let x = one.evidence.mean.as_slice();
            board(one, x, one.probability / total)
        });
        let mut boards = Vec::new();
        // One comb for all causes and their draws.
        let mut sum = 0.0;
        let mut next = 0.5;
        for one in &found.weighed {
            for (x, weight) in &one.evidence.draws {
                sum += one.probability * weight * BOARDS as f64;
                while sum > next {
                    boards.push(board(one, x.as_slice(), 1.0 / BOARDS as f64));
                    next += 1.0;
                }
            }
        }
        let share = 1.0 / boards.len().max(1) as f64;
        for board in &mut boards {
            board.weight = share;
        }
        (centres.collect(), boards)
    }

    fn report(&self, found: &Found, band: BandVerdict) -> Report {
        let all = &found.weighed;
        let healthy = all
            .iter()
            .filter(|one| self.fits[one.fit].idea == Idea::Healthy);
        let healthy: f64 = healthy.map(|one| one.probability).sum();
        let mut causes = Vec::new();
        let mut sum = 0.0;
        for (one, probability) in self.by_idea(all) {
            if sum >= TOGETHER {
                break;
            }
            sum += probability;
            causes.push(self.likely(one, probability));
        }
        let verdict = match healthy {
            _ if found.misfit > UNEXPLAINED => Verdict::Unexplained,
            share if share >= WELL => Verdict::Healthy,
            share if share >= ILL => Verdict::Undecided,
            _ if causes.len() == 1 => Verdict::Found,
            _ => Verdict::OneOf,
        };
        let (alike, unseen) = alike(&self.fits[0], &self.unknowns).unwrap_or_default();
        Report {
            band,
            verdict,
            healthy,
            causes,
            suspects: self.alone(all),
            parts: self.parts(all),
            alike: self.groups(&alike),
            unseen: self.bought(&unseen),
            blocks: self.blocks(all),
            gain: self.gain(all),
            noise: self.noise,
            misfit: found.misfit,
            repair: super::RepairVerdict::NoLimits,
            repairs: Vec::new(),
            figures: Vec::new(),
        }
    }

    /// Each idea once, with or without a calibrated gain, the likeliest first.
    fn by_idea<'a>(&self, all: &'a [Weighed]) -> Vec<(&'a Weighed, f64)> {
        let mut each: Vec<(&Weighed, f64)> = Vec::new();
        for one in all {
            let idea = self.fits[one.fit].idea;
            let same = each
                .iter_mut()
                .find(|(of, _)| self.fits[of.fit].idea == idea);
            match same {
                Some((_, probability)) => *probability += one.probability,
                None => each.push((one, one.probability)),
            }
        }
        put_in_order(&mut each, |a, b| b.1.total_cmp(&a.1));
        each
    }

    /// How far the measurement's own gain is off, where that is likelier than not.
    fn gain(&self, all: &[Weighed]) -> Option<(f64, f64)> {
        let loose = || all.iter().filter(|one| self.fits[one.fit].is_loose);
        let probability: f64 = loose().map(|one| one.probability).sum();
        let best = loose().next().filter(|_| probability > 0.5)?;
        let at = self.unknowns.gain();
        Some(relative((
            best.evidence.mean[at],
            best.evidence.deviations[at],
        )))
    }

    fn likely(&self, one: &Weighed, probability: f64) -> Likely {
        let fit = &self.fits[one.fit];
        let cause = fit.idea.told(&self.setting);
        let told = |k: usize| (one.evidence.mean[k], one.evidence.deviations[k]);
        let deviation = match fit.idea {
            Idea::MeasuredGain => Some(relative(told(self.unknowns.gain()))),
            _ => fit.broad.and_then(|k| {
                let number = *self.unknowns.numbers.get(k)?;
                let (mean, sd) = told(k);
                Some(self.deviation(number, mean, sd))
            }),
        };
        let words = match (fit.idea, &self.setting.behind) {
            (Idea::Behind(k), Some(block)) => {
                format!("{} of {}", block.parameters()[k].label, block.name())
            }
            _ => cause.words(self.setting.stages.len() > 1),
        };
        Likely {
            words,
            cause,
            probability,
            deviation,
        }
    }

    /// A logarithm of a number as a deviation of the part, and its standard deviation: an op amp's numbers are inverses.
    fn deviation(&self, number: usize, ln: f64, sd: f64) -> (f64, f64) {
        match self.setting.kind(self.setting.places()[number]) {
            Kind::OpAmp { .. } => ((-ln).exp_m1(), sd * (-ln).exp()),
            _ => relative((ln, sd)),
        }
    }

    /// Parts of which one alone deviates, within its law or not.
    fn alone(&self, all: &[Weighed]) -> Vec<Likely> {
        let of = all.iter().filter_map(|one| {
            let fit = &self.fits[one.fit];
            let is_part = matches!(fit.idea, Idea::Off(_)) && !fit.is_loose;
            is_part.then_some((one, -0.5 * fit.cost()))
        });
        let mut of: Vec<(&Weighed, f64)> = of.collect();
        put_in_order(&mut of, |a, b| b.1.total_cmp(&a.1));
        let most = of.first().map_or(0.0, |one| one.1);
        let total: f64 = of.iter().map(|one| (one.1 - most).exp()).sum();
        let mut sum = 0.0;
        let mut told = Vec::new();
        for (one, ln) in of {
            if sum >= SUSPECTED {
                break;
            }
            let share = (ln - most).exp() / total;
            sum += share;
            told.push(self.likely(one, share));
        }
        told
    }

    /// Values of all parts under the likeliest cause.
    fn parts(&self, all: &[Weighed]) -> Vec<PartValue> {
        let Some(best) = all.first() else {
            return Vec::new();
        };
        let fit = &self.fits[best.fit];
        let nominal = self.setting.nominal();
        let x = &best.evidence.mean;
        let places = self.setting.places();
        let numbers = self.unknowns.numbers.iter().enumerate();
        numbers
            .filter_map(|(k, &number)| {
                let place = places[number];
                let kind = self.setting.kind(place);
                let ln = (fit.base[number] / nominal[number]).ln() + x[k];
                let sd = best.evidence.deviations[k];
                let (deviation, standard_deviation) = self.deviation(number, ln, sd);
                let (what, unit) = match (kind, place.input) {
                    (Kind::OpAmp { .. }, 0) => (Some(OpAmpNumber::OpenLoopGain), Unit::One),
                    (Kind::OpAmp { .. }, _) => (Some(OpAmpNumber::GainBandwidth), Unit::Hertz),
                    _ => (None, Unit::of(kind)?),
                };
                let marked = match what {
                    Some(_) => 1.0 / nominal[number],
                    None => nominal[number],
                };
                let law = self.laws[number].deviation();
                Some(PartValue {
                    at: self.part_at(number),
                    what,
                    unit,
                    marked,
                    value: marked * (1.0 + deviation),
                    deviation,
                    standard_deviation,
                    tolerance: self.laws[number].reach().exp_m1(),
                    is_measured: sd < MEASURED * law || fit.broad == Some(k),
                })
            })
            .collect()
    }

    fn part_at(&self, number: usize) -> PartAt {
        let place = self.setting.places()[number];
        let part = &self.setting.stages[place.stage].model.netlist.parts()[place.part];
        PartAt {
            stage: place.stage,
            part: part.name.clone(),
        }
    }

    fn bought(&self, numbers: &[usize]) -> Vec<PartAt> {
        let places = self.setting.places();
        let bought = numbers
            .iter()
            .filter(|&&n| self.setting.is_bought(places[n]));
        bought.map(|&n| self.part_at(n)).collect()
    }

    /// Parts that all look alike, as far as they are bought. Being alike is no chain: a group holds what is alike with all of
    /// it.
    fn groups(&self, pairs: &[(usize, usize)]) -> Vec<Vec<PartAt>> {
        let are_alike = |a: usize, b: usize| pairs.contains(&(a.min(b), a.max(b)));
        let places = self.setting.places();
        let bought = |n: &usize| self.setting.is_bought(places[*n]);
        let mut groups: Vec<Vec<usize>> = Vec::new();
        for n in self.unknowns.numbers.iter().copied().filter(bought) {
            let mut all = groups.iter_mut();
            match all.find(|group| group.iter().all(|other| are_alike(n, *other))) {
                Some(group) => group.push(n),
                None => groups.push(vec![n]),
            }
        }
        groups.retain(|group| group.len() > 1);
        groups.iter().map(|group| self.bought(group)).collect()
    }

    /// How likely each block is what is ill.
    fn blocks(&self, all: &[Weighed]) -> Vec<BlockShare> {
        let places = self.setting.places();
        let block = |idea: Idea| match idea {
            Idea::Behind(_) => Some(None),
            _ => idea.touched().first().map(|n| Some(places[*n].stage)),
        };
        let share = |of: Option<usize>| {
            let own = all
                .iter()
                .filter(|one| block(self.fits[one.fit].idea) == Some(of));
            own.map(|one| one.probability).sum()
        };
        let stages = self.setting.stages.iter().enumerate();
        let mut blocks: Vec<BlockShare> = stages
            .map(|(at, of)| BlockShare {
                stage: Some(at),
                name: of.model.stage.title().to_owned(),
                probability: share(Some(at)),
            })
            .collect();
        if let Some(behind) = &self.setting.behind {
            blocks.push(BlockShare {
                stage: None,
                name: behind.name().to_owned(),
                probability: share(None),
            });
        }
        blocks
    }
}

/// A logarithm of a ratio and its standard deviation, as a relative deviation.
fn relative((ln, sd): (f64, f64)) -> (f64, f64) {
    (ln.exp_m1(), sd * ln.exp())
}
