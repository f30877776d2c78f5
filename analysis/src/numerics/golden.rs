//! Golden-section search.

const GOLDEN: f64 = 0.618_033_988_749_894_9;

/// The lowest value of `f` between two places, and where, if there is but one valley (Press et al., "Numerical
/// Recipes", 10.2); the place to within `close`.
pub fn lowest(mut f: impl FnMut(f64) -> f64, mut a: f64, mut b: f64, close: f64) -> (f64, f64) {
    let (mut c, mut d) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
    let (mut fc, mut fd) = (f(c), f(d));
    for _ in 0..60 {
        if (b - a).abs() <= close {
            break;
        }
        if fc <= fd {
            (b, d, fd) = (d, c, fc);
            c = b - GOLDEN * (b - a);
            fc = f(c);
        } else {
            (a, c, fc) = (c, d, fd);
            d = a + GOLDEN * (b - a);
            fd = f(d);
        }
    }
    if fc <= fd { (fc, c) } else { (fd, d) }
}

/// Where a function with one top between two places is largest, as closely as doubles tell.
pub fn top(f: impl Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    lowest(|x| -f(x), low, high, 0.0).1
}

#[cfg(test)]
mod tests {
    #[test]
    fn a_top_is_found() {
        let place = super::top(|x| -(x - 3.0).powi(2), 1.0, 10.0);
        assert!((place - 3.0).abs() < 1e-7);
    }

    #[test]
    fn a_valley_is_found() {
        let (low, place) = super::lowest(|x| (x - 3.0).powi(2) + 1.0, 1.0, 10.0, 1e-8);
        assert!((place - 3.0).abs() < 1e-6 && (low - 1.0).abs() < 1e-12);
    }
}
