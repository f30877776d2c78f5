//! Converters come and go.

use super::{Burst, Converter, SpreadSpectrum, Supply};

impl Supply {
    /// Adds a converter to a supply, or begins one; not beyond [`Supply::MOST`].
    pub fn add(supply: &mut Option<Supply>) {
        match supply {
            None => *supply = Some(Supply::default()),
            Some(supply) if supply.converters.len() < Supply::MOST => {
                supply.converters.push(Converter::default());
            }
            Some(_) => {}
        }
    }

    /// Takes a converter out; without any there is no supply.
    pub fn remove(supply: &mut Option<Supply>, converter: usize) {
        if let Some(known) = supply
            && converter < known.converters.len()
        {
            known.converters.remove(converter);
            if known.converters.is_empty() {
                *supply = None;
            }
        }
    }
}

impl Converter {
    /// Gives it bursts, or takes them away.
    pub fn toggle_burst(&mut self) {
        self.burst = match self.burst {
            Some(_) => None,
            None => Some(Burst::default()),
        };
    }

    /// Gives it spread spectrum, or takes it away.
    pub fn toggle_spread(&mut self) {
        self.spread = match self.spread {
            Some(_) => None,
            None => Some(SpreadSpectrum::default()),
        };
    }
}

#[cfg(test)]
mod tests {
    use super::super::check;
    use super::*;

    #[test]
    fn converters_come_and_go_and_stay_sound() {
        let mut supply = None;
        for _ in 0..9 {
            Supply::add(&mut supply);
            let known = supply.as_mut().expect("a supply");
            if let Some(last) = known.converters.last_mut() {
                last.toggle_burst();
                last.toggle_spread();
            }
            assert_eq!(check(known), Ok(()));
        }
        assert_eq!(
            supply.as_ref().map(|s| s.converters.len()),
            Some(Supply::MOST)
        );
        for _ in 0..Supply::MOST {
            Supply::remove(&mut supply, 0);
        }
        assert_eq!(supply, None);
    }
}
