//! Where to look at a curve.

use num_complex::Complex64;

/// `count` frequencies from `low` to `high` in equal ratios, both ends included (`count` ≥ 2).
pub fn log_grid(low: f64, high: f64, count: usize) -> Vec<f64> {
    let step = (high / low).ln() / (count - 1) as f64;
    let mut grid: Vec<f64> = (0..count).map(|k| low * (step * k as f64).exp()).collect();
    grid[count - 1] = high;
    grid
}

/// A logarithmic grid in Hz with more points where poles and zeros near the frequency axis bend the
/// curve: round each of them (rad/s) at relative distances that grow by 1.6 away from it, so that the bottom of a
/// deep notch is on the grid.
pub fn resolving_grid(low: f64, high: f64, count: usize, roots: &[Complex64]) -> Vec<f64> {
    let mut grid = log_grid(low, high, count);
    let spacing = (high / low).ln() / (count - 1) as f64;
    for root in roots.iter().filter(|r| r.im > 0.0) {
        let centre = root.im / std::f64::consts::TAU;
        let nearest = (root.re.abs() / root.norm()).max(1e-5);
        grid.push(centre);
        let mut offset = nearest / 2.0;
        while offset < spacing * 2.0 {
            grid.extend([centre * offset.exp(), centre * (-offset).exp()]);
            offset *= 1.6;
        }
    }
    grid.retain(|f| (low..=high).contains(f));
    grid.sort_by(f64::total_cmp);
    grid.dedup_by(|b, a| *b <= *a * (1.0 + 1e-9));
    grid
}
