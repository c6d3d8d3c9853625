use std::f64::consts::PI;

/// Nodes and weights of Gauss-Legendre quadrature on 0..1, exact for polynomials of degree `2 count - 1`.
pub(super) fn gauss_legendre(count: usize) -> Vec<(f64, f64)> {
    (0..count).map(|at| node(count, at)).collect()
}

/// Newton's method from Tricomi's estimate (Abramowitz and Stegun 1964, 22.16.6 and 25.4.29).
fn node(count: usize, at: usize) -> (f64, f64) {
    let n = count as f64;
    let mut x = (PI * (at as f64 + 0.75) / (n + 0.5)).cos();
    let mut slope = 1.0;
    for _ in 0..6 {
        let (value, before) = legendre(count, x);
        slope = n * (x * value - before) / (x * x - 1.0);
        x -= value / slope;
    }
    (0.5 * (1.0 + x), 1.0 / ((1.0 - x * x) * slope * slope))
}

/// Legendre polynomials of degree `count` and one less, by their recurrence.
fn legendre(count: usize, x: f64) -> (f64, f64) {
    let mut pair = (1.0, 0.0);
    for degree in 0..count {
        let k = degree as f64;
        pair = (((2.0 * k + 1.0) * x * pair.0 - k * pair.1) / (k + 1.0), pair.0);
    }
    pair
}

#[cfg(test)]
mod tests {
    use super::gauss_legendre;

    #[test]
    fn integrates_polynomials_of_twice_its_degree_exactly() {
        for count in [1, 2, 7, 24] {
            for degree in 0..2 * count {
                let sum: f64 =
                    gauss_legendre(count).iter().map(|(x, w)| w * x.powi(degree as i32)).sum();
                let expected = 1.0 / (degree as f64 + 1.0); // analytic
                assert!((sum - expected).abs() < 1e-13, "{count} nodes, degree {degree}: {sum}");
            }
        }
    }
}
