//! Random numbers that depend on nothing but their place: no state, so any of them can be had in any order.

/// Three random words of three words: `pcg3d`, Jarzynski and Olano 2020, "Hash Functions for GPU Rendering",
/// Journal of Computer Graphics Techniques 9(3); constants from memory, statistics tested below.
#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
pub(crate) const fn hash3([x, y, z]: [u32; 3]) -> [u32; 3] {
    #[inline(always)]
    const fn stir(x: u32) -> u32 {
        x.wrapping_mul(1_664_525).wrapping_add(1_013_904_223)
    }
    #[inline(always)]
    const fn mix([x, y, z]: [u32; 3]) -> [u32; 3] {
        let x = x.wrapping_add(y.wrapping_mul(z));
        let y = y.wrapping_add(z.wrapping_mul(x));
        let z = z.wrapping_add(x.wrapping_mul(y));
        [x, y, z]
    }
    let [x, y, z] = mix([stir(x), stir(y), stir(z)]);
    mix([x ^ (x >> 16), y ^ (y >> 16), z ^ (z >> 16)])
}

/// A random word as a number from 0 to below 1: its upper 24 bits, which a float holds exactly.
#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
pub(crate) fn unit(word: u32) -> f32 {
    (word >> 8) as f32 / (1 << 24) as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Moments of the uniform distribution: mean 1/2, variance 1/12; neighbours are independent.
    #[test]
    fn numbers_of_neighbouring_places_are_even_and_independent() {
        let (mut sum, mut squares, mut beside) = ([0.0; 3], [0.0; 3], [0.0; 3]);
        let n = 64;
        for x in 0..n {
            for y in 0..n {
                for z in 0..n {
                    let here = hash3([x, y, z]).map(|word| f64::from(unit(word)) - 0.5);
                    let next = hash3([x + 1, y, z]).map(|word| f64::from(unit(word)) - 0.5);
                    for of in 0..3 {
                        sum[of] += here[of];
                        squares[of] += here[of] * here[of];
                        beside[of] += here[of] * next[of];
                    }
                }
            }
        }
        let count = f64::from(n).powi(3);
        for of in 0..3 {
            assert!((sum[of] / count).abs() < 2e-3);
            assert!((squares[of] / count - 1.0 / 12.0).abs() < 1e-3);
            assert!((beside[of] / count).abs() < 1e-3);
        }
    }
}
