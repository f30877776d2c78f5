//! Transfer functions in zero-pole-gain form.

use num_complex::Complex64;

use crate::outcome::ZeroPoleGain;
use crate::plant::Model;
use crate::response::Transfer;

/// A stage's.
///
/// ```
/// use polewright::response::Transfer;
/// use polewright::export::of_transfer;
/// let low_pass = Transfer { num: vec![1.0], den: vec![1.0, 1.0], omega: 1e3 };
/// let found = of_transfer(&low_pass); // 1000/(s + 1000)
/// assert_eq!((found.gain, &found.poles[..]), (1e3, &[[-1e3, 0.0]][..]));
/// ```
pub fn of_transfer(transfer: &Transfer) -> ZeroPoleGain {
    let (zeros, poles) = (transfer.zeros(), transfer.poles());
    let lead = |c: &[f64], degree: usize| c.get(degree).copied().unwrap_or(0.0);
    let gain = lead(&transfer.num, zeros.len()) / lead(&transfer.den, poles.len());
    let power = poles.len() as i32 - zeros.len() as i32;
    written(&zeros, &poles, gain * transfer.omega.powi(power), 0.0)
}

/// A plant's model; its delay stays a number of its own.
pub fn of_plant(model: &Model) -> ZeroPoleGain {
    let (zeros, gain) = model.zeros();
    written(&zeros, &model.poles(), gain, model.delay)
}

/// Several in a row: their product.
pub fn in_a_row<'a>(row: impl IntoIterator<Item = &'a ZeroPoleGain>) -> ZeroPoleGain {
    let mut product = ZeroPoleGain::default();
    for one in row {
        product.zeros.extend(&one.zeros);
        product.poles.extend(&one.poles);
        product.delay += one.delay;
        product.gain = within_range(
            product.gain * one.gain,
            one.gain == 0.0 || product.gain == 0.0,
        );
    }
    product
}

fn written(zeros: &[Complex64], poles: &[Complex64], gain: f64, delay: f64) -> ZeroPoleGain {
    let all_finite = zeros.iter().chain(poles).all(|root| root.is_finite());
    let gain = within_range(gain, gain == 0.0 && zeros.is_empty());
    ZeroPoleGain {
        zeros: pairs(zeros),
        poles: pairs(poles),
        gain: if all_finite { gain } else { f64::NAN },
        delay,
    }
}

/// What came to 0 without a factor of 0 did so for want of digits.
fn within_range(gain: f64, may_be_zero: bool) -> f64 {
    match gain.is_normal() || (gain == 0.0 && may_be_zero) {
        true => gain,
        false => f64::NAN,
    }
}

/// Real roots first, then pairs, each with its exact conjugate behind it.
fn pairs(roots: &[Complex64]) -> Vec<[f64; 2]> {
    let finite = || roots.iter().filter(|root| root.is_finite());
    let real = finite().filter(|root| root.im == 0.0);
    let upper = finite().filter(|root| root.im > 0.0);
    let real = real.map(|root| [root.re, 0.0]);
    let upper = upper.flat_map(|root| [[root.re, root.im], [root.re, -root.im]]);
    real.chain(upper).collect()
}
