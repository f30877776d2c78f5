//! Making a shaft longer or shorter.

use super::{BendingEnd, Material, Shaft};

impl Shaft {
    /// A small example of a kind: "torsion", "bending", "chain"; none of any other word.
    pub fn of_kind(kind: &str) -> Option<Shaft> {
        let twisting = Shaft::default();
        let Shaft::Torsion { segments, .. } = &twisting else {
            return None;
        };
        match kind {
            "bending" => Some(Shaft::Bending {
                segments: segments.clone(),
                masses: vec![0.0, 0.02],
                ends: [BendingEnd::Clamped, BendingEnd::Free],
            }),
            "chain" => Some(Shaft::Chain {
                inertias: vec![2e-6, 5e-6],
                springs: vec![100.0],
                ground: [0.0; 2],
            }),
            "torsion" => Some(twisting),
            _ => None,
        }
    }

    /// The word for its kind, and how many places it has from left to right.
    pub fn kind(&self) -> (&'static str, usize) {
        match self {
            Shaft::Torsion { inertias, .. } => ("torsion", inertias.len()),
            Shaft::Bending { masses, .. } => ("bending", masses.len()),
            Shaft::Chain { inertias, .. } => ("chain", inertias.len()),
        }
    }

    /// Adds a piece like the last at the right end, with nothing on it.
    pub fn grow(&mut self) {
        self.resize(|pieces| pieces + 1);
    }

    /// Takes the rightmost piece away, but never the last one.
    pub fn shrink(&mut self) {
        self.resize(|pieces| pieces.saturating_sub(1).max(1));
    }

    /// Another number of segments or inertias.
    fn resize(&mut self, to: impl Fn(usize) -> usize) {
        match self {
            Shaft::Torsion {
                segments,
                inertias: loads,
                ..
            }
            | Shaft::Bending {
                segments,
                masses: loads,
                ..
            } => {
                let count = to(segments.len());
                if let Some(last) = segments.last().cloned() {
                    segments.resize(count, last);
                }
                loads.resize(count + 1, 0.0);
            }
            Shaft::Chain {
                inertias, springs, ..
            } => {
                let count = to(inertias.len());
                if let Some(last) = inertias.last().copied() {
                    inertias.resize(count, last);
                }
                springs.resize(count - 1, springs.last().copied().unwrap_or(100.0));
            }
        }
    }

    /// Makes a piece of another material; a chain has none.
    pub fn set_material(&mut self, piece: usize, material: Material) {
        if let Shaft::Torsion { segments, .. } | Shaft::Bending { segments, .. } = self
            && let Some(segment) = segments.get_mut(piece)
        {
            segment.material = material;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::check;
    use super::*;

    #[test]
    fn every_kind_grows_and_shrinks_and_stays_sound() {
        for kind in ["torsion", "bending", "chain"] {
            let mut shaft = Shaft::of_kind(kind).expect("a kind");
            assert_eq!(shaft.kind().0, kind);
            shaft.grow();
            shaft.grow();
            shaft.set_material(1, Material::GLASS);
            assert_eq!(check(&shaft), Ok(()), "{kind}");
            for _ in 0..9 {
                shaft.shrink();
            }
            assert_eq!(check(&shaft), Ok(()), "{kind}");
        }
    }
}
