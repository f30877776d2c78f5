//! Advice, in steps.

use std::task::Poll;

use super::crossing::{damped, main_fall};
use super::notch::{Search, Searching};
use super::otherwise::{self, ByPhase, LowPass, LowerGain, Otherwise};
use super::peak::PeakBox;
use super::top::Topping;
use super::{Advice, AdviceError, NotchAdvice, NotchVerdict, NotchWish, told};
use crate::feedback::{KeptLoop, OpenLoop};

/// [`super::advise`] in steps, none of which takes longer than following the loop's curve once or twice.
pub struct AdviceWork {
    kept: KeptLoop,
    wish: NotchWish,
    peak: PeakBox,
    /// As far as it is known; its crossover is NaN before that.
    advice: Advice,
    /// The largest |L| over the peak, as a ratio.
    highest: f64,
    state: State,
}

enum State {
    /// Where the loop crosses over as it is.
    Crossing,
    /// Where it would without the peak, if it does so below the peak.
    Damped(Option<f64>),
    Height(Topping),
    FullNull(Searching),
    Any(Searching),
    Lower,
    /// The nearest that any plant comes to −1.
    Nearest(LowerGain, Topping),
    Phase(LowerGain, (f64, f64)),
    /// Low-passes of the orders that are still to come, from the last on.
    LowPasses(LowerGain, ByPhase, Vec<LowPass>, Vec<u32>),
    Told,
}

impl AdviceWork {
    /// Checks the wish and looks at the peak.
    ///
    /// # Errors
    /// As [`super::advise`], but for a loop without a crossover.
    pub fn begin(open: &OpenLoop, wish: &NotchWish) -> Result<AdviceWork, AdviceError> {
        let model = wish.check(open)?;
        let peak = PeakBox::new(open, model, wish)?;
        let crossover = wish.crossover;
        Ok(AdviceWork {
            kept: KeptLoop {
                stages: open.stages.iter().map(|stage| (*stage).clone()).collect(),
                model: model.clone(),
                sign: open.sign,
            },
            wish: *wish,
            advice: Advice {
                crossover: crossover.unwrap_or(f64::NAN),
                spare_deg: f64::NAN,
                range: peak.range,
                level_db: 20.0 * wish.level.log10(),
                without_db: f64::NAN,
                verdict: NotchVerdict::NotNeeded,
                notch: None,
                full_null: None,
                otherwise: None,
                told: Vec::new(),
            },
            highest: f64::NAN,
            state: match crossover {
                Some(_) => State::Height(Topping::default()),
                None => State::Crossing,
            },
            peak,
        })
    }

    /// One step; gives the advice when it is all there, and must not be called again then.
    pub fn step(&mut self) -> Poll<Result<Advice, AdviceError>> {
        let wish = &self.wish;
        let state = std::mem::replace(&mut self.state, State::Told);
        self.state = match state {
            State::Crossing => self.crosses_as_it_is(),
            State::Damped(as_it_is) => match self.damped_crossover().or(as_it_is) {
                Some(crossover) => self.crosses_at(crossover),
                None => return Poll::Ready(Err(AdviceError::NoCrossover)),
            },
            State::Height(mut topping) => {
                let peak = &self.peak;
                match topping.step(&peak.grid, &|f| peak.largest_at(f)) {
                    Poll::Pending => State::Height(topping),
                    Poll::Ready((highest, _)) => self.stands(highest),
                }
            }
            State::FullNull(searching) => match self.search().step(true, searching) {
                Searching::Found(notch) => {
                    self.advice.full_null = notch;
                    State::Any(Searching::Placing(Vec::new()))
                }
                searching => State::FullNull(searching),
            },
            State::Any(searching) => match self.search().step(false, searching) {
                Searching::Found(notch) => {
                    self.judge(notch);
                    State::Lower
                }
                searching => State::Any(searching),
            },
            State::Lower => State::Nearest(
                otherwise::lower(&self.kept.open(), wish.level / self.highest),
                Topping::default(),
            ),
            State::Nearest(lower, mut topping) => {
                let peak = &self.peak;
                match topping.step(&peak.grid, &|f| -peak.nearest_at(f)) {
                    Poll::Pending => State::Nearest(lower, topping),
                    Poll::Ready((height, at)) => State::Phase(lower, (-height, at)),
                }
            }
            State::Phase(lower, nearest) => self.keeps_by_phase(lower, nearest),
            State::LowPasses(lower, phase, low_passes, orders) => {
                self.next_low_pass(lower, phase, low_passes, orders)
            }
            State::Told => {
                self.advice.told = told::told(&self.advice, wish);
                return Poll::Ready(Ok(self.advice.clone()));
            }
        };
        Poll::Pending
    }

    /// Where the loop crosses over below the peak as if the mode were well damped: so it is judged where the peak is
    /// grown together with the band.
    fn damped_crossover(&self) -> Option<f64> {
        let without = KeptLoop {
            model: damped(&self.kept.model, self.wish.mode),
            ..self.kept.clone()
        };
        main_fall(&without.open()).filter(|f| *f < self.peak.range.0)
    }

    fn search(&self) -> Search<'_> {
        Search {
            peak: &self.peak,
            wish: &self.wish,
            crossover: self.advice.crossover,
        }
    }

    /// Where the loop crosses over, if the peak does not decide it.
    fn crosses_as_it_is(&mut self) -> State {
        let as_it_is = main_fall(&self.kept.open());
        match as_it_is {
            Some(crossover) if crossover < self.peak.range.0 => self.crosses_at(crossover),
            _ => State::Damped(as_it_is),
        }
    }

    fn crosses_at(&mut self, crossover: f64) -> State {
        self.advice.crossover = crossover;
        State::Height(Topping::default())
    }

    /// What the peak's height calls for.
    fn stands(&mut self, highest: f64) -> State {
        let (crossover, range) = (self.advice.crossover, self.peak.range);
        let margin = (-self.kept.open().at(crossover)).arg().to_degrees();
        self.advice.spare_deg = margin - self.wish.phase_margin;
        self.advice.without_db = 20.0 * highest.log10();
        self.highest = highest;
        if highest <= self.wish.level {
            State::Told
        } else if (range.0..=range.1).contains(&crossover) {
            self.advice.verdict = NotchVerdict::AtCrossover;
            State::Lower
        } else {
            State::FullNull(Searching::Placing(Vec::new()))
        }
    }

    /// Whether the phase keeps the peak that comes so near to −1, and which low-passes are worth a try.
    fn keeps_by_phase(&self, lower: LowerGain, nearest: (f64, f64)) -> State {
        let is_stable = otherwise::is_stable(&self.kept.open());
        let is_above = self.advice.crossover < self.peak.range.0;
        let orders = if is_above { vec![2, 1] } else { Vec::new() };
        let phase = otherwise::by_phase(&self.peak, &self.wish, nearest, is_stable);
        State::LowPasses(lower, phase, Vec::new(), orders)
    }

    /// The low-pass of the last of these orders; without one, all that would do otherwise is known.
    fn next_low_pass(
        &mut self,
        lower: LowerGain,
        phase: ByPhase,
        mut low_passes: Vec<LowPass>,
        mut orders: Vec<u32>,
    ) -> State {
        let Some(order) = orders.pop() else {
            self.advice.otherwise = Some(Otherwise {
                lower,
                phase,
                low_passes,
            });
            return State::Told;
        };
        let crossover = self.advice.crossover;
        low_passes.extend(otherwise::low_pass(
            &self.peak,
            self.wish.level,
            crossover,
            order,
        ));
        State::LowPasses(lower, phase, low_passes, orders)
    }

    /// The better one of the complete notch and another.
    fn judge(&mut self, other: Option<NotchAdvice>) {
        let advice = &mut self.advice;
        let turn = |notch: &NotchAdvice| notch.cost_deg.abs();
        let both = other.into_iter().chain(advice.full_null);
        advice.notch = both.min_by(|a, b| turn(a).total_cmp(&turn(b)));
        advice.verdict = match advice.notch {
            Some(notch) if notch.cost_deg <= advice.spare_deg.max(0.0) => NotchVerdict::Notch,
            Some(_) => NotchVerdict::TooDear,
            None => NotchVerdict::None,
        };
    }
}
