//! The loop's curves, followed as far as they tell anything.

use std::sync::Arc;

use super::{LoopOf, ModelledLoop};
use crate::feedback::{Traced, trace_whole};
use crate::solve::at_once::AtOnce;
use crate::solve::task::{Asked, Blocked, Seen};

/// The loop's whole curves: with the sweep, and with the model.
pub(in crate::solve) struct Curves {
    pub measured: Option<Vec<Traced>>,
    pub modelled: Option<Seen<Vec<Traced>>>,
}

/// Follows the loop's curves.
#[derive(Default)]
pub(in crate::solve) struct Traces;

impl AtOnce for Traces {
    const FIELD: &'static str = "traces";
    type Reads = LoopOf;
    type Finds = Curves;

    fn reads(asked: &Asked) -> Result<Option<LoopOf>, Blocked> {
        LoopOf::reads(asked)
    }

    fn find(&mut self, of: &LoopOf) -> Curves {
        let modelled = of
            .modelled()
            .map(|of| Seen(Arc::new(trace_whole(&of.open()))));
        Curves {
            measured: of.measured().as_ref().map(trace_whole),
            modelled,
        }
    }
}

/// A loop whose plant has a model, with its whole curve.
#[derive(PartialEq)]
pub(in crate::solve) struct TracedLoop {
    pub of: ModelledLoop,
    pub curve: Seen<Vec<Traced>>,
}

impl TracedLoop {
    /// None where the plant has no model.
    pub fn reads(asked: &Asked) -> Result<Option<TracedLoop>, Blocked> {
        let of = ModelledLoop::reads(asked)?;
        let curves = asked.found::<Traces>()?;
        let curve = curves.and_then(|curves| curves.modelled.clone());
        Ok(of.zip(curve).map(|(of, curve)| TracedLoop { of, curve }))
    }
}
