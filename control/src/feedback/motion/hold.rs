//! One step of the open loop, exact for an error that is a polynomial over it.
//!
//! The polynomial's coefficients are carried on as states beside the loop's own, and all of them by one matrix
//! exponential (Van Loan, IEEE Transactions on Automatic Control 23, 1978; Åström and Wittenmark,
//! "Computer-Controlled Systems", 2.3, have it for a constant). However stiff the stages are, nothing is lost
//! but what the polynomial misses of the error.

use nalgebra::{DMatrix, DVector, RowDVector, SMatrix, SVector};

use super::system::{Output, System};

/// Equidistant nodes in a step, both ends among them: the error is a polynomial of the fourth degree.
pub(super) const NODES: usize = 5;
/// Steps between neighbouring nodes in a step.
pub(super) const PARTS: usize = NODES - 1;
/// Doublings from the first moment to the first node, at most.
const MOST_DOUBLINGS: u32 = 24;

pub(super) type Nodes = SVector<f64, NODES>;
pub(super) type NodeMap = SMatrix<f64, NODES, NODES>;

/// The maps of one step.
pub(super) struct Hold {
    /// From states and the error's nodes to the next states and to the nodes of position and drive, stacked.
    pub whole: DMatrix<f64>,
    /// Own states.
    pub order: usize,
    /// From the nodes to the polynomial's coefficients.
    coefficients: NodeMap,
    /// The exponentials over the first moment, twice, four times … up to the first node.
    doubled: Vec<DMatrix<f64>>,
    first: f64,
    step: f64,
    drive: RowDVector<f64>,
}

/// A moment within the first step, before its first node.
pub(super) struct Early {
    /// Seconds.
    pub time: f64,
    /// The same from 0 to 1 over the step.
    pub place: f64,
    pub error: f64,
    pub drive: f64,
}

impl Hold {
    /// The maps over `step` seconds; `fastest` is the size of the system's fastest pole, rad/s.
    pub fn new(system: &System, step: f64, fastest: f64) -> Hold {
        let n = system.b.len();
        let size = n + NODES;
        let mut whole = DMatrix::zeros(size, size);
        whole.view_mut((0, 0), (n, n)).copy_from(&system.a);
        whole.view_mut((0, n), (n, 1)).copy_from(&system.b);
        for j in 0..PARTS {
            whole[(n + j, n + j + 1)] = (j + 1) as f64 / step;
        }
        let node = step / PARTS as f64;
        let doublings = (node * fastest * 4.0)
            .log2()
            .ceil()
            .clamp(2.0, f64::from(MOST_DOUBLINGS)) as usize;
        let first = node / (1u64 << doublings) as f64;
        let mut doubled = vec![(whole * first).exp()];
        for k in 0..doublings {
            let next = &doubled[k] * &doubled[k];
            doubled.push(next);
        }
        let one = &doubled[doublings];
        let two = one * one;
        let powers = [
            DMatrix::identity(size, size),
            one.clone(),
            two.clone(),
            &two * one,
            &two * &two,
        ];
        let coefficients = coefficients();
        // Into the nodes' terms.
        let fed = |map: DMatrix<f64>| {
            let mut map = map;
            let right = map.columns(n, NODES) * coefficients;
            map.columns_mut(n, NODES).copy_from(&right);
            map
        };
        let (position, drive) = (read(&system.position), read(&system.drive));
        let mut stacked = DMatrix::zeros(n + 2 * NODES, size);
        stacked
            .rows_mut(0, n)
            .copy_from(&fed(powers[PARTS].clone()).rows(0, n));
        for (k, power) in powers.iter().enumerate() {
            let at_node = |output: &RowDVector<f64>| fed(DMatrix::from_rows(&[output * power]));
            stacked.rows_mut(n + k, 1).copy_from(&at_node(&position));
            stacked
                .rows_mut(n + NODES + k, 1)
                .copy_from(&at_node(&drive));
        }
        Hold {
            whole: stacked,
            order: n,
            coefficients,
            doubled,
            first,
            step,
            drive,
        }
    }

    /// What of the error is in the drive at once.
    pub fn direct(&self) -> f64 {
        self.drive[self.order]
    }

    /// Moments before the first node, four in an octave: the first stages answer long before the plant does,
    /// and the drive has its peak there.
    pub fn early(&self, start: &DVector<f64>, error: &Nodes) -> Vec<Early> {
        let n = self.order;
        let mut from = start.clone().resize_vertically(n + NODES, 0.0);
        from.rows_mut(n, NODES)
            .copy_from(&(self.coefficients * error));
        let mut found = Vec::new();
        for (k, pair) in self.doubled.windows(3).enumerate() {
            let mut state = &pair[2] * &from;
            // A quarter of an octave's length at a time.
            for part in 0..4 {
                if k + 3 == self.doubled.len() {
                    break;
                }
                let time = self.first * (1u64 << k) as f64 * f64::from(4 + part);
                found.push(Early {
                    time,
                    place: time / self.step,
                    error: state[n],
                    drive: (&self.drive * &state)[0],
                });
                state = &pair[0] * state;
            }
        }
        found
    }
}

/// An output of the states with the polynomial's own beside them.
fn read(output: &Output) -> RowDVector<f64> {
    let n = output.c.len();
    let mut row = output.c.clone().resize_horizontally(n + NODES, 0.0);
    row[n] = output.d;
    row
}

/// The inverse of `(i/4)^j`.
fn coefficients() -> NodeMap {
    let powers = NodeMap::from_fn(|i, j| (i as f64 / PARTS as f64).powi(j as i32));
    powers.try_inverse().unwrap_or_else(NodeMap::identity)
}

/// What each node has in a polynomial's value at a place from 0 to 1 in the step (Lagrange).
pub(super) fn weights(place: f64) -> Nodes {
    let x = place * PARTS as f64;
    Nodes::from_fn(|i, _| {
        (0..NODES)
            .filter(|&j| j != i)
            .map(|j| (x - j as f64) / (i as f64 - j as f64))
            .product()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lag_follows_a_polynomial_exactly() {
        // x' = −x + e, e = t: x = t − 1 + e^(−t).
        let system = System {
            a: DMatrix::from_element(1, 1, -1.0),
            b: DVector::from_element(1, 1.0),
            position: Output {
                c: RowDVector::from_element(1, 1.0),
                d: 0.0,
            },
            drive: Output {
                c: RowDVector::from_element(1, -1.0),
                d: 1.0,
            },
            start: DVector::zeros(1),
        };
        let hold = Hold::new(&system, 2.0, 1.0);
        let error = Nodes::from_fn(|i, _| 0.5 * i as f64);
        let from = DVector::from_iterator(6, [0.0].into_iter().chain(error.iter().copied()));
        let next = &hold.whole * from;
        let exact = |t: f64| t - 1.0 + (-t).exp();
        assert!((next[0] - exact(2.0)).abs() < 1e-13);
        for k in 0..NODES {
            let t = 0.5 * k as f64;
            assert!((next[1 + k] - exact(t)).abs() < 1e-13);
            assert!((next[1 + NODES + k] - (t - exact(t))).abs() < 1e-13);
        }
        for early in hold.early(&system.start, &error) {
            assert!(early.time < 0.5 && (early.error - early.time).abs() < 1e-14);
            assert!((early.drive - early.time + exact(early.time)).abs() < 1e-13);
        }
    }

    #[test]
    fn weights_are_those_of_the_nodes() {
        let quartic = |x: f64| 3.0 - x + 2.0 * x.powi(4);
        let nodes = Nodes::from_fn(|i, _| quartic(i as f64 / 4.0));
        assert!((weights(0.3).dot(&nodes) - quartic(0.3)).abs() < 1e-14);
    }
}
