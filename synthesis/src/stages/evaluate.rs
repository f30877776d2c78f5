//! Evaluations of a stage: its responses, figures and misses with given part values.

use crate::response::Transfer;

use super::{Abreast, Model, Seen};

impl Model {
    /// The response from input to output with these part values.
    pub fn transfer(&self, values: &[f64]) -> Transfer {
        let mut scratch = Scratch::default();
        self.respond(values, &mut scratch);
        scratch.transfer
    }

    /// Whether a stage with these part values does not oscillate: none of its poles lies in the right half plane.
    pub fn is_stable(&self, values: &[f64], scratch: &mut Scratch) -> bool {
        self.respond(values, scratch).main.is_stable()
    }

    /// All responses into scratch space, without allocating.
    pub fn respond<'a>(&self, values: &[f64], scratch: &'a mut Scratch) -> Seen<'a> {
        self.inputs(values, &mut scratch.inputs);
        scratch
            .others
            .resize_with(self.others.len(), || Transfer::zero(1.0));
        let into = std::iter::once(&mut scratch.transfer).chain(&mut scratch.others);
        for (program, transfer) in std::iter::once(&self.program).chain(&self.others).zip(into) {
            program.transfer_into(
                &scratch.inputs,
                self.scale,
                &mut scratch.registers,
                transfer,
            );
        }
        Seen {
            main: &scratch.transfer,
            others: &scratch.others,
            numbers: &scratch.inputs,
        }
    }

    /// The figures with these part values, see [`super::Yardstick::read`].
    pub fn figures(&self, values: &[f64], hint: Option<&[f64]>, scratch: &mut Scratch) -> Vec<f64> {
        let mut figures = vec![0.0; self.yardstick.figures().len()];
        let seen = self.respond(values, scratch);
        self.yardstick.read(seen, hint, &mut figures);
        figures
    }

    /// The misses with these part values, see [`super::Yardstick::terms`].
    pub fn terms(&self, values: &[f64], hint: Option<&[f64]>, scratch: &mut Scratch) -> Vec<f64> {
        let mut terms = vec![0.0; self.term_shape().count()];
        let seen = self.respond(values, scratch);
        self.yardstick.terms(seen, hint, &mut terms);
        terms
    }

    /// Hints for similar sets and misses with these part values, see [`super::Yardstick::terms_and_hints`].
    pub fn terms_and_hints(
        &self,
        values: &[f64],
        hint: Option<&[f64]>,
        scratch: &mut Scratch,
    ) -> (Vec<f64>, Vec<f64>) {
        let mut hints = vec![0.0; self.yardstick.figures().len()];
        let mut terms = vec![0.0; self.term_shape().count()];
        let seen = self.respond(values, scratch);
        (self.yardstick).terms_and_hints(seen, hint, &mut terms, &mut hints);
        (terms, hints)
    }

    /// The worst miss of a set over its limits; infinite where it oscillates or its curve cannot be read.
    pub fn worst_miss(&self, values: &[f64], scratch: &mut Scratch) -> f64 {
        let mut inputs = Vec::with_capacity(self.program.inputs());
        self.inputs(values, &mut inputs);
        self.worst_miss_of_inputs(&inputs, scratch)
    }

    /// The same of what the programs take.
    pub fn worst_miss_of_inputs(&self, inputs: &[f64], scratch: &mut Scratch) -> f64 {
        let shape = self.term_shape();
        let mut terms = vec![0.0; shape.count()];
        let abreast = &mut scratch.abreast;
        abreast.run_inputs(self, std::iter::once(inputs));
        let seen = abreast.see(self, 0);
        self.yardstick.terms(seen, None, &mut terms);
        let miss = shape.miss(&terms);
        match !miss.is_nan() && abreast.last_seen().main.is_stable() {
            true => miss,
            false => f64::INFINITY,
        }
    }

    /// [`Model::terms`] of several sets, with the same hint for all.
    pub fn terms_of_sets(
        &self,
        sets: &[Vec<f64>],
        hint: Option<&[f64]>,
        scratch: &mut Scratch,
    ) -> Vec<Vec<f64>> {
        let sets = sets.iter().map(|set| (&set[..], hint));
        self.terms_of_hinted(sets, scratch)
    }

    /// [`Model::terms`] of several sets, each with its hint.
    pub fn terms_of_hinted<'a>(
        &self,
        sets: impl Iterator<Item = (&'a [f64], Option<&'a [f64]>)>,
        scratch: &mut Scratch,
    ) -> Vec<Vec<f64>> {
        let inputs = |(set, hint)| {
            let mut inputs = Vec::new();
            self.inputs(set, &mut inputs);
            (inputs, hint)
        };
        let boards: Vec<_> = sets.map(inputs).collect();
        self.terms_of_inputs(&boards, scratch)
    }

    /// The worst miss of each set, infinite where it is above the set's bound.
    pub fn misses_within<'a>(
        &self,
        sets: impl Iterator<Item = (&'a [f64], f64)>,
        scratch: &mut Scratch,
    ) -> Vec<f64> {
        let inputs = |(set, most)| {
            let mut inputs = Vec::with_capacity(self.program.inputs());
            self.inputs(set, &mut inputs);
            (inputs, most)
        };
        let boards: Vec<(Vec<f64>, f64)> = sets.map(inputs).collect();
        let shape = self.term_shape();
        let mut terms = vec![0.0; shape.count()];
        let abreast = &mut scratch.abreast;
        let mut misses = Vec::with_capacity(boards.len());
        for some in boards.chunks(Abreast::LANES) {
            abreast.run_inputs(self, some.iter().map(|(inputs, _)| &inputs[..]));
            for (lane, (_, most)) in some.iter().enumerate() {
                let seen = abreast.see(self, lane);
                misses.push(match self.yardstick.terms_within(seen, *most, &mut terms) {
                    true => shape.miss(&terms),
                    false => f64::INFINITY,
                });
            }
        }
        misses
    }

    /// [`Model::terms`] of several boards, each by the numbers that the programs take ([`Model::inputs`]) and a hint.
    pub fn terms_of_inputs(
        &self,
        boards: &[(Vec<f64>, Option<&[f64]>)],
        scratch: &mut Scratch,
    ) -> Vec<Vec<f64>> {
        let abreast = &mut scratch.abreast;
        let mut all = Vec::with_capacity(boards.len());
        for some in boards.chunks(Abreast::LANES) {
            abreast.run_inputs(self, some.iter().map(|(inputs, _)| &inputs[..]));
            for (lane, (_, hint)) in some.iter().enumerate() {
                let mut terms = vec![0.0; self.term_shape().count()];
                let seen = abreast.see(self, lane);
                self.yardstick.terms(seen, *hint, &mut terms);
                all.push(terms);
            }
        }
        all
    }
}

/// Space for [`Model::respond`] and [`Model::terms_of_sets`].
pub struct Scratch {
    abreast: Abreast,
    inputs: Vec<f64>,
    registers: Vec<f64>,
    pub transfer: Transfer,
    others: Vec<Transfer>,
}

impl Default for Scratch {
    fn default() -> Scratch {
        Scratch {
            abreast: Abreast::default(),
            inputs: Vec::new(),
            registers: Vec::new(),
            transfer: Transfer::zero(1.0),
            others: Vec::new(),
        }
    }
}
