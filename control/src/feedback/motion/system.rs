//! The loop cut open at the summing point, as states that give both drive and position.

use nalgebra::{DMatrix, DVector, RowDVector};

use crate::feedback::OpenLoop;
use crate::plant::Plant;
use crate::response::StateSpace;

/// `x' = A·x + B·e` with two outputs; e is the error.
#[derive(Clone)]
pub(super) struct System {
    pub a: DMatrix<f64>,
    pub b: DVector<f64>,
    /// The plant's output before its delay.
    pub position: Output,
    /// The plant's input without a disturbance.
    pub drive: Output,
    /// Where the states begin.
    pub start: DVector<f64>,
}

/// `C·x + D·e`.
#[derive(Clone)]
pub(super) struct Output {
    pub c: RowDVector<f64>,
    pub d: f64,
}

impl System {
    /// Path and plant in a row. With a disturbance, a last state holds its constant 1.
    ///
    /// # Errors
    /// A sentence where the loop has no states, or none that are numbers.
    pub fn of(open: &OpenLoop, disturbed: bool) -> Result<System, String> {
        let Plant::Model(model) = open.plant else {
            return Err(super::NO_STATES.to_owned());
        };
        let path = open
            .stages
            .iter()
            .try_fold(StateSpace::gain(open.sign), |row, stage| {
                Some(row.then(&StateSpace::of(stage)?))
            });
        let path = path.ok_or(
            "A stage of the path has more zeros than poles, so that its answer to a step would hold an impulse; give \
             it an op amp with a finite bandwidth.",
        )?;
        let plant = model.states().ok_or(
            "The plant's model has more zeros than poles, so that it cannot be moved in time.",
        )?;
        let (n, m) = (path.order(), plant.order());
        let row = path.then(&plant);
        let extra = usize::from(disturbed);
        let mut system = System {
            a: row.a.resize(n + m + extra, n + m + extra, 0.0),
            b: row.b.resize_vertically(n + m + extra, 0.0),
            position: Output {
                c: row.c.resize_horizontally(n + m + extra, 0.0),
                d: row.d,
            },
            drive: Output {
                c: path.c.resize_horizontally(n + m + extra, 0.0),
                d: path.d,
            },
            start: DVector::zeros(n + m + extra),
        };
        if disturbed {
            system.a.view_mut((n, n + m), (m, 1)).copy_from(&plant.b);
            system.position.c[n + m] = plant.d;
            system.start[n + m] = 1.0;
        }
        let numbers = system
            .a
            .iter()
            .chain(system.b.iter())
            .chain(system.position.c.iter());
        let direct = [system.position.d, system.drive.d];
        if !numbers
            .chain(system.drive.c.iter())
            .chain(&direct)
            .all(|v| v.is_finite())
        {
            return Err(
                "The loop's parts are not all numbers; look at the plant's model.".to_owned(),
            );
        }
        Ok(system)
    }

    /// The same with the position fed back at once; its input is then the reference.
    ///
    /// # Errors
    /// A sentence where the direct gain is −1, which leaves the loop no solution.
    pub fn closed(&self) -> Result<System, String> {
        let share = 1.0 / (1.0 + self.position.d);
        if !share.is_finite() {
            return Err(
                "The loop's gain at high frequencies is exactly −1, so that it has no solution."
                    .to_owned(),
            );
        }
        let fed = |output: &Output| Output {
            c: &output.c - &self.position.c * (output.d * share),
            d: output.d * share,
        };
        Ok(System {
            a: &self.a - &self.b * &self.position.c * share,
            b: &self.b * share,
            position: fed(&self.position),
            drive: fed(&self.drive),
            start: self.start.clone(),
        })
    }
}
