//! What one worker counted of a band, handed to another: whole numbers add up to the same in any order.

use serde::{Deserialize, Serialize};
use wide::f32x8;

use super::{Sweep, across, larger, lesser};

/// Boards that were counted at each frequency of a sweep, and their extremes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Counts {
    boards: u64,
    #[serde(with = "words")]
    powers: Vec<u32>,
    #[serde(with = "words")]
    angles: Vec<u32>,
    /// Least and most power, then the ends of the angle.
    ends: Vec<[f32; 4]>,
}

impl Sweep {
    /// All that was counted so far; the sweep counts on from nothing, in bins where they lie.
    pub fn hand_in(&mut self) -> Counts {
        let afresh = |counts: &mut Vec<u32>| {
            let length = counts.len();
            std::mem::replace(counts, vec![0; length])
        };
        let ends = (0..self.places.len()).map(|index| {
            [
                across(self.least[index], f32::min),
                across(self.most[index], f32::max),
                self.left.get(index).map_or(0.0, |v| across(*v, f32::min)),
                self.right.get(index).map_or(0.0, |v| across(*v, f32::max)),
            ]
        });
        let ends = ends.collect();
        let none = Sweep::NOTHING;
        for (lanes, nothing) in self.ends().into_iter().zip(none) {
            lanes.fill(f32x8::splat(nothing));
        }
        Counts {
            boards: std::mem::take(&mut self.boards),
            powers: afresh(&mut self.powers),
            angles: afresh(&mut self.angles),
            ends,
        }
    }

    /// Whether these are counts at as many frequencies.
    pub fn fits(&self, counts: &Counts) -> bool {
        counts.powers.len() == self.powers.len()
            && counts.angles.len() == self.angles.len()
            && counts.ends.len() == self.places.len()
    }

    /// Adds what a sweep with the same bins has counted.
    pub fn take_in(&mut self, counts: &Counts) {
        self.boards += counts.boards;
        let pairs = [
            (&mut self.powers, &counts.powers),
            (&mut self.angles, &counts.angles),
        ];
        for (own, more) in pairs {
            own.iter_mut()
                .zip(more)
                .for_each(|(own, more)| *own += more);
        }
        let pick = [lesser, larger, lesser, larger];
        for (at, (lanes, pick)) in self.ends().into_iter().zip(pick).enumerate() {
            for (own, ends) in lanes.iter_mut().zip(&counts.ends) {
                *own = pick(*own, f32x8::splat(ends[at]));
            }
        }
    }

    fn ends(&mut self) -> [&mut Vec<f32x8>; 4] {
        [
            &mut self.least,
            &mut self.most,
            &mut self.left,
            &mut self.right,
        ]
    }
}

/// Counts as bytes: half a million of them, told one by one, would take longer than counting them.
mod words {
    use serde::{Deserializer, Serializer};
    use wide::bytemuck;

    pub fn serialize<S: Serializer>(counts: &[u32], to: S) -> Result<S::Ok, S::Error> {
        serde_bytes::serialize(bytemuck::cast_slice::<u32, u8>(counts), to)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<u32>, D::Error> {
        let bytes: Vec<u8> = serde_bytes::deserialize(from)?;
        let words = bytes.as_chunks::<4>().0.iter();
        Ok(words.map(|word| u32::from_ne_bytes(*word)).collect())
    }
}
