//! Writing a straight program in which every different polynomial stands once.
//!
//! Each register carries the residue of its polynomial at one random point modulo the prime 2⁶¹ − 1.
//! Two registers with the same residue (or opposite ones) are the same polynomial (up to its sign),
//! and residue zero is the zero polynomial, but for a chance of about degree/2⁶¹ (J. T. Schwartz,
//! "Fast probabilistic algorithms for verification of polynomial identities", JACM 27, 1980). So what
//! is built twice in different ways is shared, and a coefficient that cancels for every choice of
//! parts is left out rather than computed as rounding noise.

use std::collections::HashMap;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use super::NetlistError;
use super::program::{Coefficient, ONE, Op, Register, Step};

/// A value known while the program is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Value {
    Zero,
    /// A register, with a sign that is kept aside so that negating costs nothing.
    Signed {
        place: Register,
        negative: bool,
    },
}

impl Value {
    pub const ONE: Value = Value::Signed {
        place: ONE,
        negative: false,
    };

    pub fn input(place: Register) -> Value {
        Value::Signed {
            place,
            negative: false,
        }
    }

    pub fn negated(self) -> Value {
        match self {
            Value::Zero => Value::Zero,
            Value::Signed { place, negative } => Value::Signed {
                place,
                negative: !negative,
            },
        }
    }
}

/// A polynomial in s whose coefficients are values, lowest power first.
pub(super) type Poly = Vec<Value>;

/// The prime 2⁶¹ − 1.
const PRIME: u64 = (1 << 61) - 1;

/// Collects steps.
pub(super) struct Builder {
    first: Register,
    steps: Vec<Step>,
    /// The residue of each register.
    residues: Vec<u64>,
    /// The register with this residue.
    known: HashMap<u64, Register>,
    /// A step had no register left; the program is not to be had.
    is_full: bool,
}

impl Builder {
    /// A builder whose steps stand behind `inputs` input registers and the constant 1.
    ///
    /// # Errors
    /// With more inputs than registers.
    pub fn new(inputs: usize) -> Result<Builder, NetlistError> {
        let first = Register::try_from(inputs + 1).map_err(|_| NetlistError::TooLong)?;
        // Fixed, so that the same netlist gives the same program everywhere.
        let mut random = ChaCha8Rng::seed_from_u64(0x706f_6c65);
        let residues: Vec<u64> = std::iter::once(1)
            .chain((0..inputs).map(|_| random.next_u64() % PRIME))
            .collect();
        let known = (0..)
            .zip(&residues)
            .map(|(place, &residue)| (residue, place))
            .collect();
        Ok(Builder {
            first,
            steps: Vec::new(),
            residues,
            known,
            is_full: false,
        })
    }

    pub fn add(&mut self, x: Value, y: Value) -> Value {
        let (
            Value::Signed {
                place: a,
                negative: minus_a,
            },
            Value::Signed {
                place: b,
                negative: minus_b,
            },
        ) = (x, y)
        else {
            return if x == Value::Zero { y } else { x };
        };
        if minus_a == minus_b {
            return self.signed(Op::Add, a.min(b), a.max(b), minus_a);
        }
        if a == b {
            return Value::Zero;
        }
        // a − b and b − a are one step with two signs.
        let flipped = b < a;
        self.signed(Op::Sub, a.min(b), a.max(b), minus_a ^ flipped)
    }

    fn mul(&mut self, x: Value, y: Value) -> Value {
        let (
            Value::Signed {
                place: a,
                negative: minus_a,
            },
            Value::Signed {
                place: b,
                negative: minus_b,
            },
        ) = (x, y)
        else {
            return Value::Zero;
        };
        let negative = minus_a != minus_b;
        match (a, b) {
            (ONE, place) | (place, ONE) => Value::Signed { place, negative },
            _ => self.signed(Op::Mul, a.min(b), a.max(b), negative),
        }
    }

    fn signed(&mut self, op: Op, a: Register, b: Register, negative: bool) -> Value {
        let (x, y) = (self.residues[usize::from(a)], self.residues[usize::from(b)]);
        let residue = match op {
            Op::Add => (x + y) % PRIME,
            Op::Sub => (x + PRIME - y) % PRIME,
            Op::Mul => (u128::from(x) * u128::from(y) % u128::from(PRIME)) as u64,
        };
        if residue == 0 {
            return Value::Zero;
        }
        if let Some(&place) = self.known.get(&residue) {
            return Value::Signed { place, negative };
        }
        if let Some(&place) = self.known.get(&(PRIME - residue)) {
            return Value::Signed {
                place,
                negative: !negative,
            };
        }
        let Ok(place) = Register::try_from(usize::from(self.first) + self.steps.len()) else {
            self.is_full = true;
            return Value::Zero;
        };
        self.steps.push(Step { op, a, b });
        self.residues.push(residue);
        self.known.insert(residue, place);
        Value::Signed { place, negative }
    }

    pub fn poly_add(&mut self, x: &Poly, y: &Poly) -> Poly {
        let (long, short) = if x.len() >= y.len() { (x, y) } else { (y, x) };
        let mut sum = long.clone();
        for (to, from) in sum.iter_mut().zip(short) {
            *to = self.add(*to, *from);
        }
        trimmed(sum)
    }

    pub fn poly_mul(&mut self, x: &Poly, y: &Poly) -> Poly {
        if x.is_empty() || y.is_empty() {
            return Poly::new();
        }
        let mut product = vec![Value::Zero; x.len() + y.len() - 1];
        for (i, &a) in x.iter().enumerate() {
            for (j, &b) in y.iter().enumerate() {
                let term = self.mul(a, b);
                product[i + j] = self.add(product[i + j], term);
            }
        }
        trimmed(product)
    }

    /// Drops every step that the wanted polynomials do not need and closes the ranks.
    ///
    /// # Errors
    /// Where there were more steps than registers.
    pub fn finish(
        self,
        wanted: [&Poly; 2],
    ) -> Result<(Vec<Step>, [Vec<Coefficient>; 2]), NetlistError> {
        if self.is_full {
            return Err(NetlistError::TooLong);
        }
        let mut needed = vec![false; self.steps.len()];
        for value in wanted.into_iter().flatten() {
            if let Value::Signed { place, .. } = value
                && *place >= self.first
            {
                needed[usize::from(*place - self.first)] = true;
            }
        }
        for index in (0..self.steps.len()).rev() {
            if needed[index] {
                for place in [self.steps[index].a, self.steps[index].b] {
                    if place >= self.first {
                        needed[usize::from(place - self.first)] = true;
                    }
                }
            }
        }
        let mut moved = vec![0; self.steps.len()];
        let mut steps: Vec<Step> = Vec::new();
        let (first, mut kept) = (self.first, 0);
        for (index, step) in self.steps.iter().enumerate() {
            if needed[index] {
                let at = |place: Register| {
                    if place >= first {
                        moved[usize::from(place - first)]
                    } else {
                        place
                    }
                };
                let (a, b) = (at(step.a), at(step.b));
                moved[index] = first + kept;
                kept += 1;
                steps.push(Step { op: step.op, a, b });
            }
        }
        let coefficients = wanted.map(|poly| {
            poly.iter()
                .map(|value| match *value {
                    Value::Zero => Coefficient::Zero,
                    Value::Signed { place, negative } if place >= first => Coefficient::Register {
                        place: moved[usize::from(place - first)],
                        negative,
                    },
                    Value::Signed { place, negative } => Coefficient::Register { place, negative },
                })
                .collect()
        });
        Ok((steps, coefficients))
    }
}

pub(super) fn negated(poly: &Poly) -> Poly {
    poly.iter().map(|value| value.negated()).collect()
}

fn trimmed(mut poly: Poly) -> Poly {
    while poly.last() == Some(&Value::Zero) {
        poly.pop();
    }
    poly
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_steps_than_registers_are_an_error() {
        let mut builder = Builder::new(1).expect("room");
        let mut power = Value::input(1);
        for _ in 0..Register::MAX {
            power = builder.mul(power, Value::input(1));
        }
        assert_eq!(
            builder.finish([&vec![power], &vec![]]),
            Err(NetlistError::TooLong)
        );
        assert!(Builder::new(usize::from(Register::MAX)).is_err());
    }
}
