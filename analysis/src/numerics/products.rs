//! Products of columns of numbers, four abreast.

use wide::f64x4;

/// Σ a·b over two columns of the same length.
///
/// ```
/// use analysis::numerics::dot;
/// assert_eq!(dot(&[1.0, 2.0, 3.0, 4.0, 5.0], &[1.0; 5]), 15.0);
/// ```
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    let (fours, others) = (a.chunks_exact(4), b.chunks_exact(4));
    let rest = fours.remainder().iter().zip(others.remainder());
    let rest: f64 = rest.map(|(a, b)| a * b).sum();
    let lanes = |four: &[f64]| f64x4::new([four[0], four[1], four[2], four[3]]);
    let pairs = fours.zip(others);
    let sum = pairs.fold(f64x4::ZERO, |sum, (a, b)| lanes(a).mul_add(lanes(b), sum));
    sum.reduce_add() + rest
}

/// Products of all columns with each other, below and on the diagonal: row after row.
///
/// ```
/// use analysis::numerics::products;
/// assert_eq!(products(&[vec![1.0, 2.0], vec![3.0, 4.0]]), [5.0, 11.0, 25.0]);
/// ```
pub fn products(columns: &[Vec<f64>]) -> Vec<f64> {
    let pairs = columns.iter().enumerate();
    let row = |(at, one): (usize, &Vec<f64>)| {
        let row = columns[..=at].iter().map(|other| dot(one, other));
        row.collect::<Vec<f64>>()
    };
    pairs.flat_map(row).collect()
}
